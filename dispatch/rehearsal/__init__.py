"""
Rehearsing a month or a storm before it comes: which rule of sending crews and which fleet would serve it best.

`sim` is the rehearsed world, free of the framework; `demand` draws its callers; `measures` says what came of it.
"""
