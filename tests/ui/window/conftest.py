"""The real window on the offscreen platform, with an invented person on a real pseudo-terminal."""

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
