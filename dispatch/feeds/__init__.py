"""What other programs read of dispatch in open formats: calendars, maps, tables."""
