/* The serial line: 8N1, by interrupts, so that nobody waits for it. */
#ifndef SERIAL_H
#define SERIAL_H

#include <stdbool.h>
#include <stdint.h>

/* 38,400 bit/s come out of 16 MHz with an error of 0.16 %; 115,200 would be 2.1 % off. */
#define SERIAL_BAUD 38400UL

void serial_begin(void);

/* Sends all of it, or nothing when there is no room: a lost frame is seen, half a one is damage. */
bool serial_send(const uint8_t *data, uint8_t length);

/* Whether bytes have come that were not taken. */
bool serial_has_byte(void);
char serial_take_byte(void);

#endif
