"""Rules as guarded transitions, who drives what, slices of a job, structure findings.

The parts are modules of their own, so that whoever needs a slice does not load networkx:
``access`` (who reads and writes what), ``slice``, ``footprints``, ``logic`` (conditions over
unknown values), ``flow`` and ``transitions`` (bodies compiled path by path), ``build`` (the
graphs), ``render`` (text, DOT, Mermaid), ``values`` (what can happen by structure), ``branches``
(guards and branches), ``findings`` and ``lighting`` (what is worth a look).
"""
