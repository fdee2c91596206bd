"""What stands in for people and hardware.

Invented efforts (`efforts`), a load cell with its faults (`cell`), a sensor that speaks a wire format through a
pseudo-terminal (`device`, `program`), bad links (`disturbance`), whole sessions and archives (`scenario`, `seasons`,
`archives`), and firmware run on an emulated board (`board`). Everything made here is invented.

In come settings and seeds; out come traces, bytes and session files. May import: values, files, sensor, decoders,
storage; never a link.
"""
