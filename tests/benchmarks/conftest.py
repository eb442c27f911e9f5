"""The programs of this folder import one another by name, as they do when run."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
