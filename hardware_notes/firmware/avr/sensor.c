#include "sensor.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "converter.h"
#include "serial.h"
#include "wire.h"

enum { SETTLING = 4 };     /* conversions after a change that still show what was before */
enum { COMMAND_MAX = 24 }; /* longer than any command */

enum format { STOPPED, LINES, PACKETS };

static enum format sending;
static uint8_t rate_hz = 80;
static uint8_t settling = SETTLING;

static struct {
    uint16_t sequence;
    uint32_t tick_us, last_us;
    uint8_t n;
    int32_t counts[WIRE_COUNTS_MAX];
} packet;

static struct {
    uint8_t wanted, n;
    int32_t sum, low, high;
} zero;

static void remark(const char *key, const char *value) {
    char text[WIRE_REMARK_MAX - 2]; /* less "# " and, in place of its line feed, the zero */
    uint8_t frame[WIRE_FRAME_MAX];
    snprintf(text, sizeof text, "%s=%s", key, value);
    serial_send(frame, (sending == PACKETS ? wire_remark_packet : wire_remark_line)(frame, text));
}

static void remark_number(const char *key, int32_t value) {
    char digits[12];
    snprintf(digits, sizeof digits, "%" PRId32, value);
    remark(key, digits);
}

/* ---- samples ---- */

/* A packet that finds no room is lost, and its number with it, so that the host sees it. */
static void send_packet(void) {
    uint8_t frame[WIRE_FRAME_MAX];
    if (packet.n)
        serial_send(frame,
                    wire_packet(frame, packet.sequence++, packet.tick_us, packet.counts, packet.n));
    packet.n = 0;
}

/* Two conversions at 80 Hz hold back the first by 12.5 ms; at 10 Hz each goes at once. */
static uint8_t counts_per_packet(void) {
    return rate_hz == 80 ? 2 : 1;
}

/* The counts of a packet are evenly spaced: one that was not read ends the packet before it. */
static bool conversion_missed(uint32_t tick_us) {
    return tick_us - packet.last_us > 1500000UL / rate_hz;
}

static void add_to_packet(uint32_t tick_us, int32_t count) {
    if (packet.n && conversion_missed(tick_us))
        send_packet();
    if (packet.n == 0)
        packet.tick_us = tick_us;
    packet.last_us = tick_us;
    packet.counts[packet.n++] = count;
    if (packet.n == counts_per_packet())
        send_packet();
}

static void send_line(uint32_t tick_us, int32_t count) {
    uint8_t frame[WIRE_FRAME_MAX];
    serial_send(frame, wire_line(frame, tick_us, count));
}

/* Counts are sent as they are, before and after: the host takes its own zero. This one tells. */
static void add_to_zero(int32_t count) {
    if (zero.n == 0)
        zero.sum = 0, zero.low = zero.high = count;
    zero.sum += count; /* 80 counts of 24 bits stay within 31 */
    zero.low = count < zero.low ? count : zero.low;
    zero.high = count > zero.high ? count : zero.high;
    if (++zero.n < zero.wanted)
        return;
    zero.wanted = 0;
    remark_number("zero", zero.sum / zero.n);
    remark_number("spread", zero.high - zero.low);
}

void sensor_sample(uint32_t tick_us, int32_t count) {
    if (settling) {
        settling--;
        return;
    }
    if (zero.wanted)
        add_to_zero(count);
    if (sending == LINES)
        send_line(tick_us, count);
    if (sending == PACKETS)
        add_to_packet(tick_us, count);
}

/* ---- commands ---- */

/* The delimiter or remark keeps what the line picked up before off the first frame. */
static void start(enum format how) {
    if (sending == how)
        return;
    send_packet();
    sending = how;
    if (how == PACKETS)
        serial_send((const uint8_t *)"", 1);
    else
        remark("columns", "us,counts");
}

static void stop(void) {
    send_packet();
    sending = STOPPED;
}

static void take_zero(void) {
    zero.n = 0;
    zero.wanted = rate_hz; /* a second */
}

static void set_rate(uint8_t wanted) {
    if (wanted != rate_hz) {
        send_packet();
        rate_hz = wanted;
        converter_set_rate(rate_hz);
        settling = SETTLING;
        if (zero.wanted)
            take_zero();
    }
    remark_number("rate", rate_hz);
}

static void identify(void) {
    remark("board", "avr");
    remark("firmware", "1");
    remark("bits", "24");
    remark("tick_hz", "1000000");
    remark_number("rate", rate_hz);
    remark("converter", converter_silent() ? "silent" : "ready");
}

static void obey(const char *command) {
    if (!strcmp(command, "start") || !strcmp(command, "start packets"))
        start(PACKETS);
    else if (!strcmp(command, "start lines"))
        start(LINES);
    else if (!strcmp(command, "stop"))
        stop();
    else if (!strcmp(command, "zero"))
        take_zero();
    else if (!strcmp(command, "rate 10"))
        set_rate(10);
    else if (!strcmp(command, "rate 80"))
        set_rate(80);
    else if (!strcmp(command, "identify"))
        identify();
    else if (*command)
        remark("error", "command");
}

/* Of a command that is too long the last byte is written over and over: no such command. */
void sensor_hear(char byte) {
    static char command[COMMAND_MAX];
    static uint8_t length;
    if (byte == '\r')
        return;
    if (byte != '\n') {
        command[length] = byte;
        length += length < COMMAND_MAX - 1;
        return;
    }
    command[length] = 0;
    length = 0;
    obey(command);
}
