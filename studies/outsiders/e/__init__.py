"""Hidden-truth hold-out simulator for weighed-fuel drives, coastdowns and comparison sets.

Independent of any program.  numpy only.  SI units inside; the unit is in each name.
Sources are named beside constants: [H] handbook value (engine/vehicle-dynamics textbooks, from
memory), [R n] section n of shared/reference/reference.md, [A] assumed by the author.
"""
