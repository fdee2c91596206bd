#include "wire.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum { VERSION = 1, HEADER_BYTES = 8, CHECKSUM_BYTES = 2 };
enum { BODY_MAX = HEADER_BYTES + WIRE_COUNT_BYTES * WIRE_COUNTS_MAX + CHECKSUM_BYTES };

/* A body of fewer than 254 bytes needs one byte of stuffing, wherever its zeros are. */
_Static_assert(BODY_MAX < 254 && WIRE_REMARK_MAX < 254, "bodies are stuffed in one piece");
_Static_assert(BODY_MAX + 2 <= WIRE_FRAME_MAX, "a full packet fits a frame");

/* CRC-16/IBM-3740: polynomial 1021, from ffff, highest bit first. */
uint16_t wire_checksum(const uint8_t *data, uint8_t length) {
    uint16_t crc = 0xFFFF;
    while (length--) {
        crc ^= (uint16_t)*data++ << 8;
        for (uint8_t bit = 0; bit < 8; bit++)
            crc = crc & 0x8000 ? crc << 1 ^ 0x1021 : crc << 1;
    }
    return crc;
}

/* Writes the lowest `bytes` bytes of a number, lowest first; returns where to go on. */
static uint8_t *put(uint8_t *at, uint32_t number, uint8_t bytes) {
    for (; bytes; bytes--, number >>= 8)
        *at++ = number;
    return at;
}

/* COBS: each zero becomes the distance to the next one, so that zero can end the frame. */
static uint8_t stuff(uint8_t *out, const uint8_t *body, uint8_t length) {
    uint8_t *at = out + 1, *distance = out;
    *distance = 1;
    for (; length; length--, body++) {
        if (*body) {
            *at++ = *body;
            ++*distance;
        } else {
            distance = at++;
            *distance = 1;
        }
    }
    *at++ = 0;
    return at - out;
}

uint8_t wire_packet(uint8_t *out, uint16_t sequence, uint32_t tick_us, const int32_t *counts,
                    uint8_t n) {
    uint8_t body[BODY_MAX], *at = body;
    *at++ = VERSION;
    *at++ = WIRE_COUNT_BYTES;
    at = put(at, sequence, 2);
    at = put(at, tick_us, 4);
    while (n--)
        at = put(at, (uint32_t)*counts++, WIRE_COUNT_BYTES);
    at = put(at, wire_checksum(body, at - body), CHECKSUM_BYTES);
    return stuff(out, body, at - body);
}

uint8_t wire_line(uint8_t *out, uint32_t tick_us, int32_t count) {
    return snprintf((char *)out, WIRE_FRAME_MAX, "%" PRIu32 ",%" PRId32 "\r\n", tick_us, count);
}

static uint8_t remark(uint8_t *out, const char *text, const char *end) {
    return snprintf((char *)out, WIRE_FRAME_MAX, "# %s%s", text, end);
}

uint8_t wire_remark_line(uint8_t *out, const char *text) {
    return remark(out, text, "\r\n");
}

uint8_t wire_remark_packet(uint8_t *out, const char *text) {
    uint8_t body[WIRE_FRAME_MAX];
    return stuff(out, body, remark(body, text, "\n"));
}
