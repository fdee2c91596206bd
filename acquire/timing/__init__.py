"""When each sample was taken.

The order in which a batch of decoded samples passes::

    sequence_gaps   counters and device ticks: how many samples were lost before this one, and did the sensor restart
    device_clock    the sensor's own clock, unwrapped to seconds
    segments        stretches of steady arrival, where a sensor has no clock of its own
    clock_skew      the least-delay line: the sensor's true rate against the computer's clock
    timestamping    seconds for each sample; a gap stays a gap
    timebase        the door: picks the way that fits the profile
    host_time       when a placed second was on the computer's clock, for two sensors and for other programs

In come decoded samples with their time of arrival; out come seconds. No I/O, no clock is read.
May import: values, sensor, decoders.
"""
