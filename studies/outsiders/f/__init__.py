"""Independent hold-out simulator: hidden truth -> honest records, for judging a road-test reducer.

Modules: ``randoms`` (correlated noise), ``vehicle`` (hidden vehicle and what its owner knows), ``road``
(route and driver), ``weather`` (wind, air, what a station says), ``physics`` (forces and fuel),
``receiver`` (satellite track), ``files`` (TOML, GPX, CSV), ``runs``, ``coastdowns``, ``sets``.
SI units everywhere, unit in the name. Constants carry their source: [R x.y] is the reference sheet's
section, "assumed" is this author's judgement.
"""
