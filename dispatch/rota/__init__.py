"""
Who works when: shifts and the call-out order, made, swapped and covered, with what each change does to the night.

`changing` writes, `restaff` carries a change over to crews and the call-out order, `effects` compares the night before
and after, `pages` reads, `views` and `api` are the rooms.
"""
