/* port_m3.c - the test program on the emulated Cortex-M3: semihosting for the file and the words, a board timer that runs
 * with the emulator's instruction count, and the painted stack. */
#include <stddef.h>
#include <stdint.h>

#include "port.h"

#define SYS_OPEN 0x01
#define SYS_WRITE0 0x04
#define SYS_READ 0x06
#define SYS_EXIT 0x18
#define OPEN_READ_BINARY 1u
#define STOPPED_BY_APPLICATION 0x20026
#define STOPPED_BY_ERROR 0x20023

#define PAINT 0xA5C35A3Cu

/* The board's first timer: counts down from its reload value. */
#define TIMER_CONTROL (*(volatile uint32_t *)0x40000000u)
#define TIMER_VALUE (*(volatile uint32_t *)0x40000004u)
#define TIMER_RELOAD (*(volatile uint32_t *)0x40000008u)

void stop(int status);

static int call_host(int operation, const void *argument) {
    register int r0 __asm__("r0") = operation;
    register const void *r1 __asm__("r1") = argument;
    __asm__ volatile("bkpt 0xAB" : "+r"(r0) : "r"(r1) : "memory");
    return r0;
}

void stop(int status) {
    (void)call_host(SYS_EXIT, (const void *)(uintptr_t)((status == 0) ? STOPPED_BY_APPLICATION : STOPPED_BY_ERROR));
    for (;;) {
    }
}

void port_write(const char *text) {
    (void)call_host(SYS_WRITE0, text);
}

static uint8_t buffer[65536];
static uint32_t buffered;
static uint32_t taken;
static int file = -1;

static uint32_t refill(void) {
    uint32_t arguments[3];
    uint32_t left;
    if (file < 0) {
        static const char name[] = "vectors.bin";
        arguments[0] = (uint32_t)(uintptr_t)name;
        arguments[1] = OPEN_READ_BINARY;
        arguments[2] = (uint32_t)(sizeof(name) - 1u);
        file = call_host(SYS_OPEN, arguments);
        TIMER_RELOAD = 0xFFFFFFFFu;
        TIMER_VALUE = 0xFFFFFFFFu;
        TIMER_CONTROL = 1u;
    }
    arguments[0] = (uint32_t)file;
    arguments[1] = (uint32_t)(uintptr_t)buffer;
    arguments[2] = (uint32_t)sizeof(buffer);
    left = (uint32_t)call_host(SYS_READ, arguments);
    buffered = (left <= sizeof(buffer)) ? ((uint32_t)sizeof(buffer) - left) : 0u;
    taken = 0u;
    return buffered;
}

uint32_t port_read(void *to, uint32_t n) {
    uint8_t *bytes = to;
    uint32_t done = 0u;
    while (done < n) {
        if ((taken == buffered) && (refill() == 0u)) {
            break;
        }
        bytes[done] = buffer[taken];
        done += 1u;
        taken += 1u;
    }
    return done;
}

uint32_t port_ticks(void) {
    return 0xFFFFFFFFu - TIMER_VALUE;
}

/* With -icount shift=6 an instruction lasts 64 ns; the timer runs at 25 MHz: 1.6 ticks. */
uint32_t port_ticks_per_1000_instructions(void) {
    return 1600u;
}

/* Deeper than the kernel ever goes. */
#define PAINTED_BYTES 8192u

static uintptr_t painted_to;

/* Paints below this function's own frame, which lies where that of a call to the kernel will lie. */
__attribute__((noinline)) void port_paint_stack(void) {
    volatile uint32_t here = 0u;
    uintptr_t place = (uintptr_t)&here - PAINTED_BYTES;
    painted_to = (uintptr_t)&here - 64u;
    while (place < painted_to) {
        *(volatile uint32_t *)place = PAINT;
        place += 4u;
    }
}

/* Bytes from where the paint ended to the deepest word that was written since, and the 64 above. */
uint32_t port_stack_used(void) {
    uintptr_t place = (painted_to + 64u) - PAINTED_BYTES;
    while ((place < painted_to) && (*(volatile uint32_t *)place == PAINT)) {
        place += 4u;
    }
    return (uint32_t)((painted_to + 64u) - place);
}
