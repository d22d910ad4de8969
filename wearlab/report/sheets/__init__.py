"""The sheets of a plan on paper: run sheet, bench sheets, measurement study; black and white, room for a pencil."""
