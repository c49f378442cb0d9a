"""What commands write: whole or not at all, never over what was read, nor over what is somebody else's."""
