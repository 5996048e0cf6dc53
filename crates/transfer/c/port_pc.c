/* port_pc.c - the test program on a PC. */
#include <stdio.h>

#include "port.h"

static FILE *file;

uint32_t port_read(void *to, uint32_t n) {
    return (uint32_t)fread(to, 1u, n, file);
}

void port_write(const char *text) {
    (void)fputs(text, stdout);
}

uint32_t port_ticks(void) {
    return 0u;
}

uint32_t port_ticks_per_1000_instructions(void) {
    return 0u;
}

void port_paint_stack(void) {
}

uint32_t port_stack_used(void) {
    return 0u;
}

int main(int argc, char **argv) {
    int status;
    file = fopen((argc > 1) ? argv[1] : "vectors.bin", "rb");
    if (file == NULL) {
        port_write("no vector file\n");
        return 2;
    }
    status = check_vectors();
    (void)fclose(file);
    return status;
}
