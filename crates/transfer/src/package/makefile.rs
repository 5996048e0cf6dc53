//! The package's `Makefile`: the kernel alone, the tests on a PC and on the emulated Cortex-M3.

use super::FIRMWARE_SOURCES;

/// The line of the `Makefile` that names the steps which this method leaves out.
const LEFT_OUT: &str = "LEFT_OUT =";

pub(super) fn makefile(left_out: &[&str]) -> String {
    let switches = left_out.iter().map(|name| format!(" -D{name}")).collect::<Vec<_>>().concat();
    TEXT.replace("@SOURCES@", &FIRMWARE_SOURCES.join(" "))
        .replace("@LEFT_OUT@", &format!("{LEFT_OUT}{switches}"))
}

/// The switches of a package's `Makefile`, for whoever builds it in another way.
pub fn left_out(makefile: &str) -> Vec<String> {
    let line = makefile.lines().find_map(|line| line.strip_prefix(LEFT_OUT)).unwrap_or_default();
    let is_switch = |word: &&str| {
        let name = word.strip_prefix("-DSTW_WITHOUT_").unwrap_or_default();
        !name.is_empty() && name.bytes().all(|byte| byte.is_ascii_uppercase() || byte == b'_')
    };
    line.split_whitespace().filter(is_switch).map(str::to_owned).collect()
}

const TEXT: &str = "\
# make          compiles what firmware takes, with every warning an error
# make test     runs the vectors and the self-check on this machine
# make test-m3  the same on the emulated Cortex-M3 (an Arm cross compiler and qemu-system-arm)
# make clean
CC = cc
CROSS = arm-none-eabi-gcc
QEMU = qemu-system-arm
OPT = -Os

# -ffp-contract=off: no fused multiply-add. Never -ffast-math, nor any part of it.
STRICT = -std=c99 -ffp-contract=off -Wall -Wextra -Wconversion -Wshadow -pedantic -Werror
# Steps that this method does not use; without a switch the kernel takes every method.
@LEFT_OUT@
BARE = $(STRICT) $(LEFT_OUT) -ffreestanding $(OPT)
M3 = -mcpu=cortex-m3 -mthumb
EMULATED = -M mps2-an385 -nographic -monitor none -serial none -icount shift=6 -semihosting-config enable=on,target=native
SOURCES = @SOURCES@
HEADERS = kernel.h lot.h method.h parts.h wire.h sizes.h example.h port.h
VECTORS = $(wildcard vectors/*.bin)

all: $(SOURCES:%.c=build/pc/%.o) build/pc/example.o

test: build/pc/check build/pc/selfcheck
\tfor vectors in $(VECTORS); do ./build/pc/check $$vectors || exit 1; done
\t./build/pc/selfcheck lot.bin

test-m3: build/m3/check.elf build/m3/selfcheck.elf
\tfor vectors in $(VECTORS); do cp $$vectors build/m3/vectors.bin && (cd build/m3 && $(QEMU) $(EMULATED) -kernel check.elf) || exit 1; done
\tcp lot.bin build/m3/vectors.bin
\tcd build/m3 && $(QEMU) $(EMULATED) -kernel selfcheck.elf

build/pc/%.o: %.c $(HEADERS)
\t@mkdir -p build/pc
\t$(CC) $(BARE) -c $< -o $@

build/pc/port_pc.o: port_pc.c port.h
\t@mkdir -p build/pc
\t$(CC) $(STRICT) $(OPT) -c $< -o $@

build/pc/check: $(SOURCES:%.c=build/pc/%.o) build/pc/check.o build/pc/port_pc.o
\t$(CC) $^ -o $@

build/pc/selfcheck: $(SOURCES:%.c=build/pc/%.o) build/pc/example.o build/pc/selfcheck.o build/pc/port_pc.o
\t$(CC) $^ -o $@

build/m3/%.o: %.c $(HEADERS)
\t@mkdir -p build/m3
\t$(CROSS) $(M3) $(BARE) -c $< -o $@

build/m3/check.elf: $(SOURCES:%.c=build/m3/%.o) build/m3/check.o build/m3/port_m3.o build/m3/startup_m3.o m3.ld
\t$(CROSS) $(M3) -nostdlib -T m3.ld $(filter %.o,$^) -lgcc -o $@

build/m3/selfcheck.elf: $(SOURCES:%.c=build/m3/%.o) build/m3/example.o build/m3/selfcheck.o build/m3/port_m3.o build/m3/startup_m3.o m3.ld
\t$(CROSS) $(M3) -nostdlib -T m3.ld $(filter %.o,$^) -lgcc -o $@

clean:
\trm -rf build

.PHONY: all test test-m3 clean
";
