"""The lab: what midfoot is proved on. Development only, not in the wheel."""
