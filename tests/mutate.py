#!/usr/bin/env python3
"""Damages recipes at random and runs `check` and `format -` on them. A crash, a hang, an internal error or a sanitizer
report is a failure; any refusal is fine. Usage: mutate.py PROGRAM PROJECT COUNT [SEED]"""
import pathlib
import random
import subprocess
import sys


def damage(text, rng, others):
    data = bytearray(text)
    for _ in range(rng.randint(1, 6)):
        if not data:
            break
        kind, at = rng.randrange(7), rng.randrange(len(data))
        end = min(len(data), at + rng.randint(1, 40))
        if kind == 0:
            del data[at:end]
        elif kind == 1:
            data[at:at] = data[at:end]
        elif kind == 2:
            data[at] = rng.randrange(256)
        elif kind == 3:
            del data[at:]
        elif kind == 4:
            other = rng.choice(others)
            start = rng.randrange(len(other))
            data[at:at] = other[start:start + rng.randint(1, 120)]
        elif kind == 5:
            data[at:at] = rng.choice([b"{", b"}", b"(", b")", b"1e999", b"-", b" degC", b"\n", b'"', b"?", b" rest ", b"0"])
        else:
            lines = bytes(data).split(b"\n")
            rng.shuffle(lines)
            data = bytearray(b"\n".join(lines))
    return bytes(data)


def main():
    program, project, count = sys.argv[1], pathlib.Path(sys.argv[2]), int(sys.argv[3])
    seed = int(sys.argv[4]) if len(sys.argv) > 4 else random.randrange(1 << 30)
    rng = random.Random(seed)
    paths = sorted(project.glob("recipes/**/*.ath")) + sorted(project.glob("tests/examples/**/*.ath"))
    texts = [p.read_bytes() for p in paths]
    print(f"seed {seed}, {len(paths)} files, {count} mutants")
    bad, refused = 0, 0
    for i in range(count):
        n = rng.randrange(len(paths))
        mutant = damage(texts[n], rng, texts)
        for command in (["check", "-", "--message-format", "short"], ["format", "-"]):
            try:
                done = subprocess.run([program, *command], input=mutant, cwd=paths[n].parent, capture_output=True, timeout=20)
                status, err = done.returncode, done.stderr
            except subprocess.TimeoutExpired:
                status, err = "hang", b""
            if status not in (0, 1, 2) or b"Sanitizer" in err:
                bad += 1
                name = f"mutant-{seed}-{i}.ath"
                pathlib.Path(name).write_bytes(mutant)
                print(f"{name} (from {paths[n].name}): {command[0]} gave {status}\n{err.decode(errors='replace')[-600:]}")
            refused += command[0] == "check" and status == 1
    print(f"{count} mutants: {bad} failures, {refused} refused")
    return 1 if bad or count == 0 else 0


sys.exit(main())
