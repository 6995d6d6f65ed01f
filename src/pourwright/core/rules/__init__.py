"""
What authorities published, as dated data, and the one reader of it.

One TOML file a rule, in a folder for its market. At the top stand ``title`` (what the table is),
``source`` (title, edition, clause), ``status`` (``read``, ``read in a secondary source`` or
``from memory, …``), ``last_checked`` and, where it helps, ``unit`` and ``note``. Below, one
``[[versions]]`` for each state of the law, oldest first, with ``valid_from`` (and ``valid_until``
where it was repealed; ``source`` and ``status`` of its own where they differ) and the figures.
"""

from pourwright.core.rules.reading import NoRuleForDate, Rule, rule, rules_in

__all__ = ["NoRuleForDate", "Rule", "rule", "rules_in"]
