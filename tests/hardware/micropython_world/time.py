"""Time of the world; it passes while the firmware sleeps."""

from world import TICKS_TURN, world


def ticks_us():
    return world.now_us % TICKS_TURN


def ticks_add(ticks, delta):
    return (ticks + delta) % TICKS_TURN


def ticks_diff(end, start):
    return (end - start + TICKS_TURN // 2) % TICKS_TURN - TICKS_TURN // 2


def sleep_ms(ms):
    world.sleep(1000 * ms)
