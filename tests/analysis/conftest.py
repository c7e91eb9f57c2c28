"""Makes `stories` importable whatever folder pytest was started in."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
