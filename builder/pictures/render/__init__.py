"""Ray casting: scenes, cameras, light, shading and the table of colours."""
