"""
A month or a storm of a drying company, as events in time: callers, drives, visits, machines out and back.

Nothing here knows the framework. Times are whole seconds from the rehearsal's zero, the first midnight. Everything
that chance decides about a job is drawn when its call comes in, from one stream for each purpose, so that every rule
and every fleet is tried on the same storm.
"""
