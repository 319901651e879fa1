"""Plane curves: chains of cubic Beziers in millimetres. Knows nothing of cloth, drawings or files."""
