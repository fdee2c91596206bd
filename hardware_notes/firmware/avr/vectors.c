/* Makes, on the chip, the frames that it is told to: the tests hold them against wire_vectors.toml.
 *
 *     p SEQUENCE TICK COUNT...    a packet        l TICK COUNT    a line
 *     r TEXT                      a remark among packets
 *
 * Each command ends with a line feed and is answered by the frame in hexadecimal. */
#include <avr/interrupt.h>
#include <stdio.h>
#include <stdlib.h>

#include "serial.h"
#include "wire.h"

static uint8_t packet(uint8_t *out, char *numbers) {
    int32_t counts[WIRE_COUNTS_MAX];
    uint16_t sequence = strtoul(numbers, &numbers, 10);
    uint32_t tick_us = strtoul(numbers, &numbers, 10);
    uint8_t n = 0;
    while (*numbers && n < WIRE_COUNTS_MAX)
        counts[n++] = strtol(numbers, &numbers, 10);
    return wire_packet(out, sequence, tick_us, counts, n);
}

static uint8_t line(uint8_t *out, char *numbers) {
    uint32_t tick_us = strtoul(numbers, &numbers, 10);
    return wire_line(out, tick_us, strtol(numbers, NULL, 10));
}

static uint8_t made(uint8_t *out, char *command) {
    if (command[0] == 'p')
        return packet(out, command + 1);
    if (command[0] == 'l')
        return line(out, command + 1);
    return wire_remark_packet(out, command + 2);
}

static void answer(char *command) {
    uint8_t frame[WIRE_FRAME_MAX];
    char text[2 * WIRE_FRAME_MAX + 2], *at = text;
    uint8_t length = made(frame, command);
    for (uint8_t i = 0; i < length; i++)
        at += sprintf(at, "%02x", frame[i]);
    *at++ = '\n';
    serial_send((const uint8_t *)text, at - text);
}

int main(void) {
    static char command[120];
    uint8_t length = 0;
    serial_begin();
    sei();
    for (;;) {
        if (!serial_has_byte())
            continue;
        char byte = serial_take_byte();
        if (byte != '\n') {
            command[length] = byte;
            length += length < sizeof command - 1;
            continue;
        }
        command[length] = 0;
        length = 0;
        answer(command);
    }
}
