/* Reference firmware of a force sensor for an ATmega328P at 16 MHz.
 *
 *     bridge - converter - two wires - this - serial line - host
 *
 * It is silent until it is told to start, so that a host which finds the board still in its boot
 * loader knows to ask again. */
#include <avr/interrupt.h>
#include <avr/sleep.h>

#include "converter.h"
#include "sensor.h"
#include "serial.h"

/* An interrupt between the question and the sleep would be slept over, so it is let in after it. */
static void sleep_until_something_happens(void) {
    cli();
    if (!converter_ready() && !serial_has_byte()) {
        sleep_enable();
        sei();
        sleep_cpu();
        sleep_disable();
    }
    sei();
}

int main(void) {
    set_sleep_mode(SLEEP_MODE_IDLE);
    serial_begin();
    converter_begin();
    converter_set_rate(80);
    sei();
    for (;;) {
        if (converter_ready()) {
            uint32_t tick_us;
            int32_t count = converter_read(&tick_us);
            sensor_sample(tick_us, count);
        }
        while (serial_has_byte())
            sensor_hear(serial_take_byte());
        sleep_until_something_happens();
    }
}
