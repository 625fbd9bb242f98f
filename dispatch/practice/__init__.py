"""A practice night: invented calls against the demo company, in a database of its own, with nothing sent to anybody."""
