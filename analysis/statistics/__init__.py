"""Statistics without a word of strength in them.

Uncertainty budgets by JCGM 100, distributions, shares and funnels, control charts, limits of agreement, intraclass
correlation, measurement error. Every function names its source and is checked against a published example.

In come arrays; out come arrays and frozen values. May import: nothing but array types.
"""
