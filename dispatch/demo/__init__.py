"""The invented company that shows the program: loaded through the use cases that a real company uses."""
