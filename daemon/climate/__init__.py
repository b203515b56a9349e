"""Pure: what the air and the box walls do with water."""
