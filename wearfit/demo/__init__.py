"""One simulator of tool fleets whose truth is known, and the written scenario that it makes."""
