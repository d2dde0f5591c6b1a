"""What is read off the closed mold and its parts: how they print, walls, eye sockets, all as records."""
