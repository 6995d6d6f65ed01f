"""
How much is in a candle: what its label declares, whether a lot's fills bear it out, what to aim at.

``declared`` reads and writes net-weight statements; ``us`` and ``average`` (EU and GB) check a
lot; ``target`` finds the fill to aim at; ``control`` watches the pouring; ``scales`` and
``instruments`` say what the weights lean on. Results name the rule and edition they used.
"""

from pourwright.core.contents.checking import (
    RULE_NAMES,
    check_net,
    lowest_allowed_g,
    sample_wanted,
)
from pourwright.core.contents.declared import (
    MARKET_RULES,
    BadDeclaration,
    Declared,
    MarketRule,
    Statement,
    parse_declared,
    statement_for,
    us_statement,
)
from pourwright.core.contents.verdict import BadSample, Step, Verdict

__all__ = [
    "MARKET_RULES",
    "RULE_NAMES",
    "BadDeclaration",
    "BadSample",
    "Declared",
    "MarketRule",
    "Statement",
    "Step",
    "Verdict",
    "check_net",
    "lowest_allowed_g",
    "parse_declared",
    "sample_wanted",
    "statement_for",
    "us_statement",
]
