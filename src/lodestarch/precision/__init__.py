"""How sure is this number, and why: fitted scatter, uncertainty budget, sampling, variance components.

- ``pairs``: duplicate pairs as arrays; what cannot be used becomes a finding.
- ``scatter_fit`` (with ``scatter_prior``, ``scatter_shape``, ``scatter_likelihood``, ``scatter_posterior``,
  ``scatter_smooth``, ``scatter_result``, ``scatter_findings``, ``mixture``): SD of one tube by level.
- ``gum``, ``distribution``, ``monte_carlo``: linear propagation, and simulation as its check.
- ``sensitivity``, ``contribution``, ``budget``: the budget of a falling number.
- ``nesting``, ``reml``, ``components``: nested variance components.
- ``sampling_plan``, ``kernels``: probes, grinds and tubes at least cost; few hot kernels or many.
- ``line``, ``summary``: straight lines and columns, without losing digits.

In three lines::

    fit = scatter_fit.fit_scatter(first_s, second_s)
    line = contribution.tube_line(fit, 287.0, tubes=2)
    budget.budget_of(287.0, [line, ...]).u_s
"""

from __future__ import annotations
