#!/usr/bin/env python3
"""Checks sealed Stillhold records without Stillhold: Python 3.8 or newer, standard library only.

    python3 verify_record.py ARCHIVE_FOLDER        the whole chain of an archive
    python3 verify_record.py RECORD.json ...       single records, in the order of their chain

For each record: the text is in canonical form (RFC 8785), the Ed25519 signature (RFC 8032) holds over it without its
`signature` member, `previous_sha256` is the hash of the previous record, and the recording, the photos and the system
file have the hashes that were sealed. For an archive also: the signed count beside the records (`head.json`) fits them,
and each kept time stamp is of a count of this archive and unchanged since it was kept; the authority's own signature is
left to `stillhold verify --tsa`. Where the readings of a hold came from is printed. It does not recompute verdicts. Exit code 0 when all holds, 1 when something
does not, 2 when there is nothing to check.
"""

import base64
import hashlib
import json
import math
import os
import re
import sys

# Ed25519 as RFC 8032 section 5.1 and its appendix A state it; points in extended coordinates (X, Y, Z, T).

P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
SQRT_M1 = pow(2, (P - 1) // 4, P)


def add(a, b):
    p = (a[1] - a[0]) * (b[1] - b[0]) % P
    q = (a[1] + a[0]) * (b[1] + b[0]) % P
    r = 2 * a[3] * b[3] * D % P
    s = 2 * a[2] * b[2] % P
    e, f, g, h = q - p, s - r, s + r, q + p
    return (e * f % P, g * h % P, f * g % P, e * h % P)


def multiply(scalar, point):
    result = (0, 1, 1, 0)
    while scalar > 0:
        if scalar & 1:
            result = add(result, point)
        point = add(point, point)
        scalar >>= 1
    return result


def recover_x(y, sign):
    if y >= P:
        return None
    x2 = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    if x2 == 0:
        return None if sign else 0
    x = pow(x2, (P + 3) // 8, P)
    if (x * x - x2) % P != 0:
        x = x * SQRT_M1 % P
    if (x * x - x2) % P != 0:
        return None
    return P - x if (x & 1) != sign else x


BASE_Y = 4 * pow(5, P - 2, P) % P
BASE_X = recover_x(BASE_Y, 0)
BASE = (BASE_X, BASE_Y, 1, BASE_X * BASE_Y % P)


def decompress(data):
    y = int.from_bytes(data, "little")
    sign = y >> 255
    y &= (1 << 255) - 1
    x = recover_x(y, sign)
    return None if x is None else (x, y, 1, x * y % P)


def equal(a, b):
    return (a[0] * b[2] - b[0] * a[2]) % P == 0 and (a[1] * b[2] - b[1] * a[2]) % P == 0


def ed25519_holds(public, message, signature):
    if len(public) != 32 or len(signature) != 64:
        return False
    key, r = decompress(public), decompress(signature[:32])
    s = int.from_bytes(signature[32:], "little")
    if key is None or r is None or s >= L:
        return False
    h = int.from_bytes(hashlib.sha512(signature[:32] + public + message).digest(), "little") % L
    return equal(multiply(s, BASE), add(r, multiply(h, key)))


# Canonical JSON, RFC 8785: members sorted by UTF-16 code units, no white space, numbers as ECMAScript writes them.


def number_text(value):
    if isinstance(value, int):
        value = float(value)
    if math.isnan(value) or math.isinf(value):
        raise ValueError("a number that JSON cannot say")
    if value == 0:
        return "0"
    sign = "-" if value < 0 else ""
    mantissa, _, exponent = ("%r" % abs(value)).lower().partition("e")
    whole, _, fraction = mantissa.partition(".")
    digits = whole + (fraction if fraction != "0" else "")
    point = len(whole) + int(exponent or 0)
    stripped = digits.lstrip("0")
    point -= len(digits) - len(stripped)
    digits = stripped.rstrip("0")
    count = len(digits)
    if count <= point <= 21:
        return sign + digits + "0" * (point - count)
    if 0 < point <= 21:
        return sign + digits[:point] + "." + digits[point:]
    if -6 < point <= 0:
        return sign + "0." + "0" * -point + digits
    shown = digits[0] + ("." + digits[1:] if count > 1 else "")
    return "%s%se%s%d" % (sign, shown, "+" if point > 0 else "-", abs(point - 1))


ESCAPES = {8: "\\b", 9: "\\t", 10: "\\n", 12: "\\f", 13: "\\r", 34: '\\"', 92: "\\\\"}


def string_text(value):
    out = []
    for character in value:
        code = ord(character)
        if 0xD800 <= code <= 0xDFFF:
            raise ValueError("half of a surrogate pair")
        out.append(ESCAPES.get(code) or ("\\u%04x" % code if code < 32 else character))
    return '"' + "".join(out) + '"'


def canonical(value):
    if value is None:
        return "null"
    if value is True:
        return "true"
    if value is False:
        return "false"
    if isinstance(value, str):
        return string_text(value)
    if isinstance(value, (int, float)):
        return number_text(value)
    if isinstance(value, list):
        return "[" + ",".join(canonical(item) for item in value) + "]"
    keys = sorted(value, key=lambda key: key.encode("utf-16-be"))
    return "{" + ",".join(string_text(key) + ":" + canonical(value[key]) for key in keys) + "}"


def sha256(data):
    return hashlib.sha256(data).hexdigest()


def base64_bytes(text):
    data = base64.b64decode(text, validate=True)
    if base64.b64encode(data).decode() != text:
        raise ValueError("base64 in another spelling")
    return data


def signed_faults(record):
    """What is wrong with the signature over everything but itself."""
    unsigned = {key: member for key, member in record.items() if key != "signature"}
    message = canonical(unsigned).encode("utf-8")
    if not ed25519_holds(base64_bytes(record["public_key"]), message, base64_bytes(record["signature"])):
        return ["its signature does not hold"]
    return []


def read_head(data):
    """A signed count and what is wrong with it."""
    try:
        head = json.loads(data.decode("utf-8"))
        faults = signed_faults(head)
        if canonical(head).encode("utf-8") != data:
            faults.append("its bytes are not in canonical form: they were changed")
        return head, faults
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        return None, ["it cannot be read as a signed count: %s" % error]


def check_head(folder, kept, has_new):
    """Faults of `head.json` in a chain's folder. `kept` has (hash, key) for each record; version 0.1 signed no count."""
    path = os.path.join(folder, "head.json")
    if not os.path.exists(path):
        return ["it is missing"] if has_new else []
    with open(path, "rb") as file:
        head, faults = read_head(file.read())
    if head is None or faults:
        return faults
    if kept and head["public_key"] != kept[0][1]:
        faults.append("it is signed with another key than the records")
    # The program may have been stopped between the last record and its count.
    if not 0 <= len(kept) - head["count"] <= 1:
        faults.append("it counts %d records, and %d are here" % (head["count"], len(kept)))
    elif head["last_sha256"] != (kept[head["count"] - 1][0] if head["count"] else None):
        faults.append("the last record it counts is another one")
    return faults


def check_stamps(root, hashes):
    """Yields the name and the faults of each kept time stamp. `hashes` has the records of each chain by its key."""
    folder = os.path.join(root, "timestamps")
    names = sorted(os.listdir(folder)) if os.path.isdir(folder) else []
    for name in [name for name in names if name.endswith(".tsr")]:
        with open(os.path.join(folder, name), "rb") as file:
            stamp = file.read()
        faults = []
        if not name.endswith("-%s.tsr" % sha256(stamp)[:16]):
            faults.append("it was changed after it was stored")
        head_path = os.path.join(folder, name[:-4] + ".json")
        data = b""
        if os.path.exists(head_path):
            with open(head_path, "rb") as file:
                data = file.read()
        head, wrong = read_head(data)
        faults += wrong
        if hashlib.sha256(data).digest() not in stamp:
            faults.append("it is of another count")
        if head is not None and not wrong:
            chain = hashes.get(head["public_key"], [])
            if head["count"] > len(chain) or chain[head["count"] - 1] != head["last_sha256"]:
                faults.append("the records it counts are not in this archive")
        yield name, faults


def origin_text(record):
    """Where the readings of a hold came from; None where that is no question."""
    if record["kind"] != "hold" or record["stillhold_record"] == 1:
        return None
    origins = {(each["kind"], each["name"] or "") for each in record.get("origins") or []}
    words = ["%s %s" % (kind, name) if name else kind for kind, name in sorted(origins)]
    return "readings: " + (", ".join(words) if words else "origin not known")


def check(path, before, root):
    """Returns what does not hold, and the hash and key for the next record. `before` is (hash, sequence, key) or None."""
    with open(path, "rb") as file:
        data = file.read()
    faults = []
    try:
        record = json.loads(data.decode("utf-8"))
        if canonical(record).encode("utf-8") != data:
            faults.append("its bytes are not in canonical form: they were changed")
        faults += signed_faults(record)
        if os.path.basename(path) != record["id"] + ".json":
            faults.append("its id is " + record["id"])
        if sha256(record["system"]["text"].encode("utf-8")) != record["system"]["sha256"]:
            faults.append("the system file does not match its hash")
        if before is not None:
            if record["previous_sha256"] != before[0] or record["sequence"] != before[1] + 1:
                faults.append("it does not follow the previous record")
            if record["public_key"] != before[2]:
                faults.append("it is signed with another key than the previous record")
        elif root is not None and record["previous_sha256"] is not None:
            faults.append("the records before it are missing")
        kept = [("photos", photo["sha256"], photo) for photo in record["photos"]]
        if record["recording"] is not None:
            kept.append(("recordings", record["recording"]["sha256"] + ".lp", record["recording"]))
        for folder, name, entry in kept:
            file_path = None if root is None else os.path.join(root, folder, name)
            if file_path is None:
                continue
            if not os.path.exists(file_path):
                faults.append(entry["name"] + " is missing")
                continue
            with open(file_path, "rb") as file:
                content = file.read()
            if sha256(content) != entry["sha256"] or len(content) != entry["bytes"]:
                faults.append(entry["name"] + " was changed")
        said = origin_text(record)
        is_new = record["stillhold_record"] > 1
        return faults, (sha256(data), record["sequence"], record["public_key"], said, is_new)
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        return faults + ["it cannot be read as a record: %s" % error], (sha256(data), -1, None, None, True)


def chains(path):
    """Yields (root of the kept files, record files in order) for each chain of an archive, or one for a list of files."""
    pattern = re.compile(r"^(\d{4,})-[a-z0-9-]+\.json$")
    folders = [os.path.join(path, "records")]
    foreign = os.path.join(path, "chains")
    if os.path.isdir(foreign):
        folders += [os.path.join(foreign, name, "records") for name in sorted(os.listdir(foreign))]
    for folder in folders:
        if os.path.isdir(folder):
            names = [name for name in os.listdir(folder) if pattern.match(name)]
            names.sort(key=lambda name: int(pattern.match(name).group(1)))
            yield path, [os.path.join(folder, name) for name in names]


def main(arguments):
    if not arguments or arguments[0] in ("-h", "--help"):
        print(__doc__.strip())
        return 2
    groups = []
    files = [path for path in arguments if not os.path.isdir(path)]
    for path in arguments:
        if os.path.isdir(path):
            groups += list(chains(path))
    if files:
        groups.append((None, files))
    checked = broken = 0
    hashes = {}

    def tell(name, faults, otherwise):
        nonlocal broken
        broken += bool(faults)
        print("%s: %s" % (name, "; ".join(faults) if faults else otherwise))

    for root, paths in groups:
        before = None
        kept = []
        for path in paths:
            try:
                faults, after = check(path, before if before and before[2] else None, root)
            except OSError as error:
                print("%s: %s" % (path, error.strerror))
                return 2
            before = after
            kept.append(after)
            checked += 1
            key = hashlib.sha256(base64.b64decode(after[2])).hexdigest()[:16] if after[2] else "unknown"
            origin = ", " + after[3] if after[3] else ""
            tell(os.path.basename(path)[: -len(".json")], faults, "holds, key " + key + origin)
        if root is not None and paths:
            folder = os.path.dirname(os.path.dirname(paths[0]))
            head_faults = check_head(folder, [(one[0], one[2]) for one in kept], any(one[4] for one in kept))
            tell("head.json", head_faults, "holds, fits the %d records" % len(kept))
            hashes[kept[0][2]] = [one[0] for one in kept]
    for root in {root for root, _ in groups if root is not None}:
        for name, faults in check_stamps(root, hashes):
            tell("timestamps/" + name, faults, "holds, unchanged and of this archive")
    if checked == 0:
        print("no records found")
        return 2
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
