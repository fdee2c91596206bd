"""What a Bluetooth sensor notifies is listed before anybody knows what it is."""

import pytest
from bluez import LEVEL, Peer

from acquire.errors import LinkError, LinkFailure
from acquire.links.bluetooth_services import Notifier, notifiers

SERVICE = "5a1c7e0d-2f7b-4c5e-9a51-0d8f3b6c2e11"
CHARACTERISTIC = "5A1C7E0D-2F7B-4C5E-9A51-0D8F3B6C2E12"


def grip(**changed):
    return Peer(**{"name": "Grip-01", "service": SERVICE, "characteristic": CHARACTERISTIC, **changed})


@pytest.mark.parametrize("wanted", ["Grip-01", "C0:FF:EE:00:00:01"])
def test_notifying_characteristic_is_listed_and_the_sensor_let_go(air, wanted):
    peer = air.bluez.add(grip(battery=80))
    assert notifiers(wanted, search_s=2.0) == (Notifier(SERVICE, CHARACTERISTIC.lower()),)
    assert not peer.connected


def test_battery_level_holds_no_samples(air):
    air.bluez.add(grip(characteristic=LEVEL))
    with pytest.raises(LinkError, match="Grip-01 notifies nothing") as caught:
        notifiers("Grip-01", search_s=2.0)
    assert caught.value.reason is LinkFailure.FAILED


def test_sensor_out_of_reach(air):  # noqa: ARG001 # nothing in it
    with pytest.raises(LinkError, match="no sensor Grip-02 is in range") as caught:
        notifiers("Grip-02", search_s=0.3)
    assert caught.value.reason is LinkFailure.NOT_FOUND


def test_sensor_that_refuses_is_let_go(air):
    air.bluez.add(grip(refuse="org.bluez.Error.AlreadyConnected"))
    with pytest.raises(LinkError, match="in use by another program") as caught:
        notifiers("Grip-01", search_s=2.0)
    assert caught.value.reason is LinkFailure.BUSY


def test_machine_without_bluetooth():
    with pytest.raises(LinkError, match="no working Bluetooth") as caught:
        notifiers("Grip-01", search_s=0.3)
    assert caught.value.reason is LinkFailure.NO_BLUETOOTH
