"""
The day's plan: whole days solved, judged and explained, in whole seconds, metres and units of cost.

Its doors: ``problem.read_problem`` and ``problem.build``, ``solve.solve``, ``check.check``, ``offers.standing_of``,
``whatif.what_if``, ``explain.moves``, and from outside ``python -m dispatch.planner``.
"""
