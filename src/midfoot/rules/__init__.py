"""Rules of performance as data, and what a camera can say of each: computed from measures alone.

Rule for the next author: what a rulebook says stands in data/*.toml with its clause and source; here is only how a
measure is held against it. No verdict says that a lift was good: the referee decides.
"""

from midfoot.rules.book import Rule, RuleBook, RulesError, load, names
from midfoot.rules.check import CLEAR_SDS, check

VERSION = "1"

__all__ = ["CLEAR_SDS", "VERSION", "Rule", "RuleBook", "RulesError", "check", "load", "names"]
