"""Pins of the world."""

from world import world

SCK, RATE = 5, 6


class Pin:
    IN, OUT, PULL_UP, IRQ_FALLING = 0, 1, 2, 3

    def __init__(self, number, mode, pull=None, value=None):
        self._number = number
        assert (mode == Pin.OUT) == (value is not None) == (pull is None)
        if value is not None:
            self.value(value)

    def irq(self, handler, trigger):
        assert trigger == Pin.IRQ_FALLING
        world.on_fall = handler

    def value(self, level=None):
        if self._number == SCK:
            world.sck(level)
        elif self._number == RATE:
            world.fast = bool(level)
        return world.dout


def disable_irq():
    return 1


def enable_irq(state):
    assert state == 1
