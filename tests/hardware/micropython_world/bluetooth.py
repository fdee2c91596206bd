"""The radio of the world; calls and events as MicroPython's documentation of its module `bluetooth` has them."""

from world import world

FLAG_WRITE, FLAG_NOTIFY = 0x08, 0x10
HANDLE = 12


class UUID:
    def __init__(self, text):
        assert len(text) == 36


class BLE:
    def active(self, on):
        assert on

    def irq(self, handler):
        world.told = handler

    def gatts_register_services(self, services):
        ((service, ((characteristic, flags),)),) = services
        assert isinstance(service, UUID)
        assert isinstance(characteristic, UUID)
        assert flags == FLAG_WRITE | FLAG_NOTIFY
        return ((HANDLE,),)

    def gatts_set_buffer(self, handle, length):
        assert (handle, length) == (HANDLE, 64)

    def gap_advertise(self, interval_us, adv_data, resp_data):
        assert interval_us >= 20_000
        assert len(adv_data) <= 31
        assert len(resp_data) <= 31
        world.advertised = adv_data, resp_data

    def gatts_read(self, handle):
        assert handle == HANDLE
        return world.written

    def gatts_notify(self, host, handle, data):
        assert (host, handle) == (7, HANDLE)
        world.notify(data)
