"""
A night as a list of steps, run through the use cases of the rooms with the step's time as `now`.

`scenario` reads and checks a file whole; `verbs` knows what a step may do, `looks` what it may read, `references` how
it names what came before; `play` runs the steps, `place` gives them a database of their own.
"""
