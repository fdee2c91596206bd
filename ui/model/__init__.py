"""What the window shows and does, without a window: plain classes with the clock as an argument."""
