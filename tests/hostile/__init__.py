"""What strangers may send: each test was an attack that worked."""
