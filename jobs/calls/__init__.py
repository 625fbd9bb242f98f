"""The call as data: its fields in the order in which they are asked, what may stand in them, what is read aloud."""
