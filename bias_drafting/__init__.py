"""Bias drafting: from a drawing of curved stems to a checked, true-size appliqué pattern."""
