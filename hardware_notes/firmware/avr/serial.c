#include "serial.h"

#include <avr/interrupt.h>
#include <avr/io.h>

enum { RING = 128 }; /* a power of two */

/* One end writes `head`, the other `tail`; both run freely and are cut to the ring when used. */
struct ring {
    volatile uint8_t head, tail;
    uint8_t bytes[RING];
};

static struct ring out, in;

static uint8_t used(const struct ring *ring) {
    return ring->head - ring->tail;
}

static void put(struct ring *ring, uint8_t byte) {
    ring->bytes[ring->head % RING] = byte;
    ring->head++;
}

static uint8_t take(struct ring *ring) {
    uint8_t byte = ring->bytes[ring->tail % RING];
    ring->tail++;
    return byte;
}

ISR(USART_RX_vect) {
    uint8_t byte = UDR0;
    if (used(&in) < RING)
        put(&in, byte);
}

ISR(USART_UDRE_vect) {
    if (used(&out))
        UDR0 = take(&out);
    else
        UCSR0B &= ~_BV(UDRIE0);
}

void serial_begin(void) {
    UCSR0A = _BV(U2X0);
    UBRR0 = (F_CPU + 4 * SERIAL_BAUD) / (8 * SERIAL_BAUD) - 1;
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(RXCIE0) | _BV(RXEN0) | _BV(TXEN0);
}

bool serial_send(const uint8_t *data, uint8_t length) {
    if (length > RING - used(&out))
        return false;
    while (length--)
        put(&out, *data++);
    UCSR0B |= _BV(UDRIE0);
    return true;
}

bool serial_has_byte(void) {
    return used(&in);
}

char serial_take_byte(void) {
    return take(&in);
}
