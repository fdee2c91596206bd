#include "converter.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>
#include <util/delay.h>

#if F_CPU != 16000000UL
#error "the clock below counts half microseconds of a 16 MHz crystal"
#endif

enum { DOUT = PB0, SCK = PB1, RATE = PB2 };
enum { BITS = 24, GAIN_PULSES = 1 }; /* one pulse more asks for gain 128 the next time */
enum { SILENT_TURNS = 36 };          /* 1.2 s */

static volatile uint32_t turns; /* of the 16-bit timer: 32,768 us each */
static volatile uint32_t ended_us, ended_turn;
static volatile bool ready;

ISR(TIMER1_OVF_vect) {
    turns++;
}

/* DOUT fell. Its edges while bits are read are no ends of conversions, so this is off meanwhile. */
ISR(TIMER1_CAPT_vect) {
    uint16_t half_us = ICR1;
    bool turned = TIFR1 & _BV(TOV1) && half_us < 0x8000; /* a turn not counted yet */
    ended_us = (turns + turned) << 15 | half_us >> 1;
    ended_turn = turns;
    ready = true;
    TIMSK1 = _BV(TOIE1);
}

void converter_begin(void) {
    DDRB |= _BV(SCK) | _BV(RATE);
    PORTB |= _BV(DOUT);              /* pulled up: without a converter it never falls */
    TCCR1B = _BV(ICNC1) | _BV(CS11); /* falling edge, noise canceller, 2 MHz */
    TIFR1 = _BV(ICF1);
    TIMSK1 = _BV(TOIE1) | _BV(ICIE1);
}

void converter_set_rate(uint8_t rate_hz) {
    if (rate_hz == 80)
        PORTB |= _BV(RATE);
    else
        PORTB &= ~_BV(RATE);
}

bool converter_ready(void) {
    return ready;
}

bool converter_silent(void) {
    bool silent;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        silent = turns - ended_turn > SILENT_TURNS;
    }
    return silent;
}

/* SCK high for 60 us switches the converter off, so nothing may interrupt a pulse. */
static bool pulse(void) {
    bool bit;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        PORTB |= _BV(SCK);
        _delay_us(1);
        bit = PINB & _BV(DOUT);
        PORTB &= ~_BV(SCK);
    }
    _delay_us(1);
    return bit;
}

int32_t converter_read(uint32_t *tick_us) {
    *tick_us = ended_us; /* stays as it is until `ready` is false */
    uint32_t count = 0;
    for (uint8_t bit = 0; bit < BITS; bit++)
        count = count << 1 | pulse();
    for (uint8_t extra = 0; extra < GAIN_PULSES; extra++)
        pulse();
    ready = false;
    TIFR1 = _BV(ICF1);
    TIMSK1 = _BV(TOIE1) | _BV(ICIE1);
    return (int32_t)(count << 8) >> 8; /* two's complement of 24 bits */
}
