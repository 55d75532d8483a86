"""Tables as a newcomer typed them: each with all that comes of it, the map as well as every word said."""

from __future__ import annotations

import io
from typing import Any

import openpyxl
import pytest

from pinmap import tabular
from pinmap.errors import PinmapError
from pinmap.importing import imported

#: What is said of every table; it is tested elsewhere.
_ALWAYS = ("bus:", "form:", "first:", "pitch:")


def outcome(raw: bytes, name: str = "t.txt", **options: Any) -> str:
    """The title if there is one, the contacts, then what was assumed (?), not understood (!) and passed over (-)."""
    try:
        answer = imported(tabular.read(raw, name), **options)
    except PinmapError as error:
        return f"refused: {error}"
    lines = answer.text.splitlines()
    out = [line for line in lines if line.startswith("title: ") and "Connector of" not in line]
    out += [line.strip() for line in lines[lines.index("contacts:") + 1 :]]
    out += [f"? {each}" for each in answer.assumed if not each.startswith(_ALWAYS)]
    out += [f"! {each}" for each in (*answer.not_understood, *answer.doubts)]
    return "\n".join(out + [f"- {each}" for each in answer.passed_over])


CASES: dict[str, tuple[str, dict[str, Any], str]] = {
    "a header": (
        """\
Cabinet header
GND  1 o o 2  RESET
D7   3 o o 4  +5V
D6   5 o o 6  IRQ2
D5   7 o o 8  GND
""",
        {},
        """\
title: Cabinet header
1: GND
2: RESET
3: D7
4: +5V
5: D6
6: IRQ2
7: D5
8: GND
? drawing: 'GND 1 o o 2 RESET' was read as contact 1 with 'GND' and contact 2 with 'RESET'
? labels: zigzag, for 1 and 2, and those after them, stand side by side in the table
- t.txt:1:1: 'Cabinet header': a heading""",
    ),
    "names that look like contacts": (
        """\
A7 1 . . 2 A6
A5 3 . . 4 IRQ 2
D1 5 . . 6 D0
GND 7 . . 8 +5V
""",
        {},
        """\
1..3: A7..A5
4: IRQ 2
5: D1
6: D0
7: GND
8: +5V
? drawing: 'A7 1 . . 2 A6' was read as contact 1 with 'A7' and contact 2 with 'A6'
? labels: zigzag, for 1 and 2, and those after them, stand side by side in the table""",
    ),
    "a slot with two pairs of rows": (
        """\
GND [ B1] [ A1] /IOR
 D7 [ B2] [ A2] A5
 D6 [ B3] [ A3] A4
 A1 [ D1] [ C1] D0
 A2 [ D2] [ C2] GND
 D1 [ D3] [ C3] /IOW
""",
        {"body": "edge slot"},
        """\
A1: /IOR
A2: A5
A3: A4
B1: GND
B2: D7
B3: D6
C1: D0
C2: GND
C3: /IOW
D1: A1
D2: A2
D3: D1
? drawing: 'GND [ B1] [ A1] /IOR' was read as contact B1 with 'GND' and contact A1 with '/IOR'""",
    ),
    "dashes that lead to the contacts": (
        """\
+-------+
GND --| B1   A1 |-- -I/O CH CK
-5V --| B2   A2 |-- D7
/IOR --| B3   A3 |-- 5V
+-------+
""",
        {},
        """\
A1: -I/O CH CK
A2: D7
A3: 5V
B1: GND
B2: -5V
B3: /IOR
? drawing: 'GND -- B1 A1 -- -I/O CH CK' was read as contact B1 with 'GND' and contact A1 with '-I/O CH CK'
? signs: 5V has no sign (contact A3) and was taken for +5V
- t.txt:1:1: '+-------+': a line that only draws the table
- t.txt:5:1: '+-------+': a line that only draws the table""",
    ),
    "single dashes that may be a minus": (
        """\
GND - 1 o o 2 - RESET
D7  - 3 o o 4 - 12V
D6  - 5 o o 6 - D5
""",
        {},
        """\
1: GND
2: RESET
3: D7
4: 12V
5: D6
6: D5
? drawing: 'GND - 1 o o 2 - RESET' was read as contact 1 with 'GND' and contact 2 with '- RESET'
? labels: zigzag, for 1 and 2, and those after them, stand side by side in the table
? dashes: the dash with a space behind it, before 3 names, parts contact and signal and was left away, for it does \
before '- D5' (contact 6); it marks no line as active low and no supply as negative
! t.txt:2:15: '- 12V': the dash before it at contact 4 was taken as the mark that parts contact and signal, and not \
as a minus, for '- D5' (contact 6) bears it too: measure whether the contact has +12V or -12V, and write the sign""",
    ),
    "single dashes that are none": (
        """\
GND - 1 o o 2 - RESET
D7  - 3 o o 4 - -12V
D6  - 5 o o 6 - D5
""",
        {},
        """\
1: GND
2: RESET
3: D7
4: -12V
5: D6
6: D5
? drawing: 'GND - 1 o o 2 - RESET' was read as contact 1 with 'GND' and contact 2 with 'RESET'
? labels: zigzag, for 1 and 2, and those after them, stand side by side in the table""",
    ),
    "what is left over": (
        """\
Header J3, 2x4
GND 1 o o 2 RESET   see note
D7  3 o o 4 +5V
D6  5 o o 6
D5  7 o o 8 IRQ2
    9 o o 10 GND
GND 11 o
Seen from the mating face
""",
        {"body": "2x6 zigzag"},
        """\
title: "Header J3, 2x4"
1: GND
2: {signal: RESET, note: "see note"}
3: D7
4: +5V
5: D6
7: D5
8: IRQ2
10: GND
? drawing: 'GND 1 o o 2 RESET see note' was read as contact 1 with 'GND' and contact 2 with 'RESET'
? not in the table, and not described: 6, 9, 11, 12
! t.txt:4:11: '6': nothing stands there for a signal; not described
! t.txt:6:5: '9': nothing stands there for a signal; not described
! t.txt:7:1: 'GND 11 o': no contact's label with a line's name behind it
- t.txt:1:1: 'Header J3, 2x4': a heading
- t.txt:8:1: 'Seen from the mating face': a heading""",
    ),
    "numbers and letters": (
        """\
GND 1 o o A +5V
 D7 2 o o B A3
 A1 3 o o C RESET
 D0 4 o o D IRQ2
""",
        {},
        """\
1: GND
2: D7
3: A1
4: D0
A: +5V
B: A3
C: RESET
D: IRQ2
? drawing: 'GND 1 o o A +5V' was read as contact 1 with 'GND' and contact A with '+5V'
? labels: lettered, numbers on one row and letters on the other""",
    ),
    "numbers for two rows": (
        """\
GND  1  /IOCHK
RESET  2  D7
+5V  3  D6
IRQ2  4  D5
""",
        {},
        """\
refused: t.txt:1:1: one column must be the signals'; column 1 and column 3 read as signals equally well. Name it \
with --signal-column, by its heading or number: --signal-column 1; if each is a row of contacts, head them Row A and \
Row B""",
    ),
    "numbers for two rows, one of them asked for": (
        """\
GND  1  /IOCHK
RESET  2  D7
+5V  3  D6
IRQ2  4  D5
""",
        {"signal_column": "1", "body": "1x4 serial"},
        """\
1: {signal: GND, note: "/IOCHK"}
2: {signal: RESET, note: "D7"}
3: {signal: +5V, note: "D6"}
4: {signal: IRQ2, note: "D5"}
! t.txt:1:9: '/IOCHK, D7, D6 …': column 3 holds names of lines and was not read as signals; what stands there is a \
note in the map (--signal-column and --contact-column name several columns with commas)""",
    ),
    "half of a drawing asked for": (
        """\
GND  1 o o 3  D7
D6  5 o o 7  D5
RESET  2 o o 4  +5V
IRQ2  6 o o 8  GND
""",
        {"signal_column": "1", "body": "2x4 zigzag"},
        """\
1: {signal: GND, note: "o o 3; D7"}
2: {signal: RESET, note: "o o 4; +5V"}
5: {signal: D6, note: "o o 7; D5"}
6: {signal: IRQ2, note: "o o 8; GND"}
? in a column that was not read, and not described: 3, 4, 7, 8
! t.txt:1:15: 'D7, D5, +5V …': column 4 holds names of lines and was not read as signals; what stands there is a \
note in the map (--signal-column and --contact-column name several columns with commas)""",
    ),
    "names beside numbers that are no column": (
        """\
D7,3 o o 4,+5V
D6,5 o o 6,IRQ2
D5,7 o o 8,GND
D4,9 o o 10,DRQ2
""",
        {},
        """\
refused: t.txt:1:1: one column must be the signals'; column 1 and column 4 read as signals equally well. Name it \
with --signal-column, by its heading or number: --signal-column 1; if each is a row of contacts, head them Row A and \
Row B""",
    ),
    "labels of which --body has one kind": (
        """\
1,B1,GND
2,B2,RESET
3,B3,D7
4,B4,+5V
""",
        {"body": "1x4 serial"},
        """\
1: GND
2: RESET
3: D7
4: +5V
? t.txt: column 2 was not read, though it may name contacts""",
    ),
    "labels of which --body has the other kind": (
        """\
1,B1,GND
2,B2,RESET
3,B3,D7
4,B4,+5V
""",
        {"body": "1x4 rows"},
        """\
B1: GND
B2: RESET
B3: D7
B4: +5V
? t.txt: column 1 was not read, though it may name contacts""",
    ),
    "labels of two kinds and no --body": (
        """\
1,B1,GND
2,B2,RESET
3,B3,D7
4,B4,+5V
""",
        {},
        """\
refused: t.txt:1:1: one column must be the contacts'; column 1 and column 2 read as contacts equally well. Name it \
with --contact-column, by its heading or number: --contact-column 1""",
    ),
    "rows that --body has not": (
        """\
A1,GND
A2,RESET
A3,D7
""",
        {"body": "box header 2x3"},
        """\
refused: --body must fit the labels: it says 2 rows, but the labels read are of 1 row (A1 … A3). Name the column of \
the contacts with --contact-column, say the rows that there are with --body, or the letters of all, like "letters A \
B\"""",
    ),
    "numbers that the labels are not": (
        """\
A1,GND
B1,RESET
A2,D7
B2,+5V
""",
        {"body": "box header 2x2 zigzag"},
        """\
refused: --body must fit the labels: zigzag has numbers, but the labels read are A1 … A2 and B1 … B2. Name the \
column of the contacts with --contact-column, or say rows with --body""",
    ),
    "a row unlike the others first": (
        """\
>> B1 GND <<
B2: RESET
B3: +5V
A1: D7
A2: D6
A3: D5
""",
        {},
        """\
A1..A3: D7..D5
B2: RESET
B3: +5V
? not in the table, and not described: B1
! t.txt:1:1: '>> B1 GND <<': it names a contact and a line, but is no row as the others are; if it describes a \
contact, write it so""",
    ),
    "a sentence that tells a contact": (
        """\
B1,GND
B2,RESET
B3,+5V
A1,D7
A2,D6
and A3 is GND too
""",
        {},
        """\
A1: D7
A2: D6
B1: GND
B2: RESET
B3: +5V
? not in the table, and not described: A3
! t.txt:6:1: 'and A3 is GND too': it names a contact and a line, but is no row as the others are; if it describes a \
contact, write it so""",
    ),
    "no direction before contacts": (
        """\
-- 1 GND
<-> 2 D7
-> 3 RESET
-- 4 +5V
<- 5 IRQ2
-- 6 -12V
""",
        {"body": "1x6 serial"},
        """\
1: GND
2: D7
3: RESET
4: +5V
5: IRQ2
6: -12V""",
    ),
    "no direction behind contacts": (
        """\
1 -- GND
2 <-> D7
3 -> RESET
4 -- +5V
5 <- IRQ2
6 -- -12V
""",
        {"body": "1x6 serial"},
        """\
1: GND
2: D7
3: RESET
4: +5V
5: IRQ2
6: -12V""",
    ),
    "no direction in a column": (
        """\
Pin,Dir,Signal
1,--,GND
2,<->,D7
3,->,RESET
4,-,+5V
5,<-,IRQ2
""",
        {"body": "1x5 serial"},
        """\
1: GND
2: D7
3: RESET
4: +5V
5: IRQ2
- t.txt:1:1: 'Pin  Dir  Signal': a heading""",
    ),
    "a dash that may be a minus among arrows": (
        """\
1  - GND
2  <-> D7
3  -> RESET
4  - 5V
5  <- IRQ2
""",
        {"body": "1x5 serial"},
        """\
1: GND
2: D7
3: RESET
4: 5V
5: IRQ2
? dashes: the dash with a space behind it, before 2 names, parts contact and signal and was left away, for it does \
before '- GND' (contact 1); it marks no line as active low and no supply as negative
! t.txt:4:4: '- 5V': the dash before it at contact 4 was taken as the mark that parts contact and signal, and not as \
a minus, for '- GND' (contact 1) bears it too: measure whether the contact has +5V or -5V, and write the sign""",
    ),
    "two dashes without arrows": (
        """\
-- B1 GND
B2 RESET
B3 +5V
A1 D7
A2 D6
A3 D5
""",
        {},
        """\
A1..A3: D7..D5
B2: RESET
B3: +5V
? not in the table, and not described: B1
! t.txt:1:1: '-- B1 GND': it names a contact and a line, but is no row as the others are; if it describes a contact, \
write it so""",
    ),
    "one small letter": (
        """\
A1,GND
a2,D7
A3,D6
B1,RESET
B2,+5V
B3,IRQ2
""",
        {},
        """\
A1: GND
A2: D7
A3: D6
B1: RESET
B2: +5V
B3: IRQ2
? labels: a2 was read as A2, for the others are written so""",
    ),
    "one row in small letters": (
        """\
A1,GND
A2,D7
A3,D6
b1,RESET
b2,+5V
b3,IRQ2
b4,IRQ3
""",
        {},
        """\
A1: GND
A2: D7
A3: D6
B1: RESET
B2: +5V
B3: IRQ2
B4: IRQ3
? labels: b1 was read as B1, for the others are written so, and 3 other labels likewise
? not in the table, and not described: A4""",
    ),
    "one contact in both cases": (
        """\
A1,GND
a2,D7
A2,D6
A3,D5
B1,RESET
B2,+5V
B3,IRQ2
""",
        {},
        """\
A1: GND
A2: D7
A2: D6
A3: D5
B1: RESET
B2: +5V
B3: IRQ2
? labels: a2 was read as A2, for the others are written so
! t.txt:3:1: 'A2  D6': contact A2 stands at t.txt:2:1 too, with 'D7'; both are in the map""",
    ),
    "rows of both cases": (
        """\
A1,GND
A2,D7
A3,D6
a1,RESET
a2,+5V
a3,IRQ2
""",
        {},
        """\
A1: GND
A2: D7
A3: D6
a1: RESET
a2: +5V
a3: IRQ2""",
    ),
    "rows a and b": (
        """\
a1,GND
a2,D7
a3,D6
b1,RESET
b2,+5V
b3,IRQ2
""",
        {},
        """\
a1: GND
a2: D7
a3: D6
b1: RESET
b2: +5V
b3: IRQ2""",
    ),
    "two connectors by a column": (
        """\
Connector,Pin,Signal
J1,1,GND
J1,2,D7
J1,3,RESET
J2,1,+5V
J2,2,D6
J2,3,IRQ2
""",
        {"body": "1x3 serial"},
        """\
refused: t.txt:5:2: a file must describe one connector; its tables at t.txt:2:2 and t.txt:5:2 both describe contact \
1. Say which with --table 'J1' or --table 'J2'""",
    ),
    "two connectors by a column, one asked for": (
        """\
Connector,Pin,Signal
J1,1,GND
,2,D7
,3,RESET
J2,1,+5V
,2,D6
,3,IRQ2
""",
        {"body": "1x3 serial", "table": "j2"},
        """\
1: +5V
2: D6
3: IRQ2
- t.txt:1:1: 'Connector  Pin  Signal': a heading
- t.txt:2:2: '1  GND': of another table of the file
- t.txt:3:2: '2  D7': of another table of the file
- t.txt:4:2: '3  RESET': of another table of the file""",
    ),
    "two connectors with other contacts": (
        """\
J1,1,GND
J1,2,D7
J1,3,RESET
J2,4,+5V
J2,5,D6
J2,6,IRQ2
""",
        {"body": "1x3 serial"},
        """\
refused: t.txt:4:2: a file must describe one connector; its tables at t.txt:1:2 and t.txt:4:2 are of J1 and J2. Say \
which with --table 'J1' or --table 'J2'""",
    ),
    "a column with a label or two": (
        """\
Kontakt;Name;Spannung
1;GND;
2;D7;
3;RESET;
4;+5V;5
5;IRQ2;
6;D6;
7;D5;
8;+12V;12
""",
        {"body": "1x8 serial"},
        """\
1: GND
2: D7
3: RESET
4: +5V
5: IRQ2
6: D6
7: D5
8: +12V
? t.txt: column 3 ('Spannung') was not read, though it may name contacts ('5' and '12')
- t.txt:1:1: 'Kontakt  Name  Spannung': a heading""",
    ),
    "a name too much": (
        """\
1,GND
2,D7
3,,RESET
4,+5V
5,IRQ2
6,D6
""",
        {"body": "1x6 serial"},
        """\
1: GND
2: D7
4: +5V
5: IRQ2
6: D6
? not in the table, and not described: 3
! t.txt:3:1: '3': nothing stands there for a signal; not described
! t.txt:3:3: 'RESET': column 3 holds names of lines and was not read as signals; what stands there is a note in the \
map (--signal-column and --contact-column name several columns with commas)""",
    ),
    "A0 to A5 beside A5 to A0": (
        """\
A0,A5
A1,A4
A2,A3
A3,A2
A4,A1
A5,A0
""",
        {},
        """\
refused: t.txt:1:1: one column must be the contacts'; column 1 and column 2 read as contacts equally well. Name it \
with --contact-column, by its heading or number: --contact-column 1""",
    ),
    "rails without a sign": (
        """\
1,5V
2,12V
3,-12V
4,D7
5,GND
""",
        {"body": "1x5 serial"},
        """\
1: 5V
2: 12V
3: -12V
4: D7
5: GND
? signs: 5V has no sign (contact 1) and was taken for +5V
? signs: 12V has no sign (contact 2) and was taken for +12V""",
    ),
    "rails without a sign, of which one is negative": (
        """\
1,12V
2,12V
3,+5V
4,D7
5,GND
""",
        {"body": "1x5 serial"},
        """\
1: 12V
2: 12V
3: +5V
4: D7
5: GND
? signs: 12V has no sign (contacts 1 and 2) and was taken for +12V
! t.txt:1:2: '12V': 2 contacts have 12V without a sign (contacts 1 and 2), and the bus has +12V and -12V: it stands \
for +12V in the map; measure the contact, and write the sign
! t.txt:2:2: '12V': 2 contacts have 12V without a sign (contacts 1 and 2), and the bus has +12V and -12V: it stands \
for +12V in the map; measure the contact, and write the sign""",
    ),
    "runs before runs": (
        """\
A1      /IOCHK
A2-A5   D7-D4
A6..A8  A19..A17
A9 AEN
B1      GND
B2 to B3  IRQ2
""",
        {"body": "edge slot 2x9"},
        """\
A1: /IOCHK
A2..A5: D7..D4
A6..A8: A19..A17
A9: AEN
B1: GND
? not in the table, and not described: B2–B9
! t.txt:6:1: 'B2 to B3  IRQ2': 2 contacts for 1 signals; only a supply, a return or open may stand alone for several""",
    ),
    "columns that a single space parts": (
        """\
Dir Pin Name
I   A1  IOCHK*
I/O A2  D7
I/O A3  D6
-   B1  GND
O   B2  RESET
-   B3  +5V
O   A10 AEN
I   B10 IRQ2
""",
        {"body": "edge slot 2x10"},
        """\
A1: IOCHK*
A2: D7
A3: D6
A10: AEN
B1: GND
B2: RESET
B3: +5V
B10: IRQ2
? not in the table, and not described: A4–A9, B4–B9
- t.txt:1:1: 'Dir  Pin  Name': a heading""",
    ),
    "headings that span two columns": (
        """\
Pin Signal     Pin Signal     Pin Signal
1   GND         3  D7          5   D6
2   RESET       4  +5V         6   IRQ2
""",
        {"body": "1x6 serial"},
        """\
1: GND
2: RESET
3: D7
4: +5V
5: D6
6: IRQ2
- t.txt:1:1: 'Pin Signal  Pin Signal  Pin Signal': a heading""",
    ),
    "two tables under headings": (
        """\
# Connectors

## J1

| Pin | Signal |
|---|---|
| 1 | GND |
| 2 | D7 |
| 3 | D6 |

## J2: the slot

| Pin | Signal |
|---|---|
| 1 | +5V |
| 2 | RESET |
| 3 | IRQ2 |
""",
        {"body": "1x3 serial"},
        """\
refused: t.txt:15:3: a file must describe one connector; its tables at t.txt:7:3 and t.txt:15:3 both describe \
contact 1. Say which with --table 'J1' or --table 'J2'""",
    ),
    "the second of two tables, by number": (
        """\
# Connectors

## J1

| Pin | Signal |
|---|---|
| 1 | GND |
| 2 | D7 |
| 3 | D6 |

## J2: the slot

| Pin | Signal |
|---|---|
| 1 | +5V |
| 2 | RESET |
| 3 | IRQ2 |
""",
        {"body": "1x3 serial", "table": "2"},
        """\
title: "J2: the slot"
1: +5V
2: RESET
3: IRQ2
- t.txt:1:1: '# Connectors': text outside a table, or a heading
- t.txt:3:1: '## J1': text outside a table, or a heading
- t.txt:5:3: 'Pin  Signal': a heading
- t.txt:6:1: '|---|---|': a line that only draws the table
- t.txt:7:3: '1  GND': of another table of the file
- t.txt:8:3: '2  D7': of another table of the file
- t.txt:9:3: '3  D6': of another table of the file
- t.txt:11:1: '## J2: the slot': text outside a table, or a heading
- t.txt:13:3: 'Pin  Signal': a heading
- t.txt:14:1: '|---|---|': a line that only draws the table""",
    ),
    "the second of two tables, by the name above": (
        """\
# Connectors

## J1

| Pin | Signal |
|---|---|
| 1 | GND |
| 2 | D7 |
| 3 | D6 |

## J2: the slot

| Pin | Signal |
|---|---|
| 1 | +5V |
| 2 | RESET |
| 3 | IRQ2 |
""",
        {"body": "1x3 serial", "table": "j2"},
        """\
title: "J2: the slot"
1: +5V
2: RESET
3: IRQ2
- t.txt:1:1: '# Connectors': text outside a table, or a heading
- t.txt:3:1: '## J1': text outside a table, or a heading
- t.txt:5:3: 'Pin  Signal': a heading
- t.txt:6:1: '|---|---|': a line that only draws the table
- t.txt:7:3: '1  GND': of another table of the file
- t.txt:8:3: '2  D7': of another table of the file
- t.txt:9:3: '3  D6': of another table of the file
- t.txt:11:1: '## J2: the slot': text outside a table, or a heading
- t.txt:13:3: 'Pin  Signal': a heading
- t.txt:14:1: '|---|---|': a line that only draws the table""",
    ),
    "the second of two tables, by its heading": (
        """\
# Connectors

## J1

| Pin | Signal |
|---|---|
| 1 | GND |
| 2 | D7 |
| 3 | D6 |

## J2: the slot

| Pin | Signal |
|---|---|
| 1 | +5V |
| 2 | RESET |
| 3 | IRQ2 |
""",
        {"body": "1x3 serial", "table": "## J2: the slot"},
        """\
title: "J2: the slot"
1: +5V
2: RESET
3: IRQ2
- t.txt:1:1: '# Connectors': text outside a table, or a heading
- t.txt:3:1: '## J1': text outside a table, or a heading
- t.txt:5:3: 'Pin  Signal': a heading
- t.txt:6:1: '|---|---|': a line that only draws the table
- t.txt:7:3: '1  GND': of another table of the file
- t.txt:8:3: '2  D7': of another table of the file
- t.txt:9:3: '3  D6': of another table of the file
- t.txt:11:1: '## J2: the slot': text outside a table, or a heading
- t.txt:13:3: 'Pin  Signal': a heading
- t.txt:14:1: '|---|---|': a line that only draws the table""",
    ),
    "a third of two tables": (
        """\
# Connectors

## J1

| Pin | Signal |
|---|---|
| 1 | GND |
| 2 | D7 |
| 3 | D6 |

## J2: the slot

| Pin | Signal |
|---|---|
| 1 | +5V |
| 2 | RESET |
| 3 | IRQ2 |
""",
        {"body": "1x3 serial", "table": "3"},
        """\
refused: --table must be 1 ('J1') or 2 ('J2'), not '3'""",
    ),
    "lists under plain headings": (
        """\
Rear
1: GND
2: D7
3: D6

Front
1: +5V
2: RESET
3: IRQ2
""",
        {"body": "1x3 serial", "table": "front"},
        """\
title: Front
1: +5V
2: RESET
3: IRQ2
- t.txt:1:1: 'Rear': a heading
- t.txt:2:1: '1  GND': of another table of the file
- t.txt:3:1: '2  D7': of another table of the file
- t.txt:4:1: '3  D6': of another table of the file
- t.txt:6:1: 'Front': a heading""",
    ),
    "contacts before names that look like contacts": (
        """\
A1 A19   B1 GND
A2 A18   B2 RESET
A3 A17   B3 IRQ2
A4 A16   B4 IRQ3
""",
        {"body": "edge slot"},
        """\
A1..A4: A19..A16
B1: GND
B2: RESET
B3: IRQ2
B4: IRQ3""",
    ),
    "labels that are names too, and a body of rows": (
        """\
1,A1,GND
2,A2,RESET
3,A3,D7
4,A4,+5V
""",
        {"body": "1x4 rows"},
        """\
A1: GND
A2: RESET
A3: D7
A4: +5V
? t.txt: column 1 was not read, though it may name contacts""",
    ),
    "two connectors of rows": (
        """\
J1,A1,GND
J1,A2,D7
J1,A3,RESET
J2,A1,+5V
J2,A2,D6
J2,A3,IRQ2
""",
        {"body": "1x3 rows", "table": "J2"},
        """\
refused: t.txt: a table must have a column of contacts (1, 2, 3 … or A1, A2 … B1) and one of signals; of 18 cells 15 \
read as a contact's label and 12 as a line's name. Name them with --contact-column and --signal-column, by heading \
or number, or copy the table into CSV with the two columns contact,signal""",
    ),
    "two connectors that are alike": (
        """\
J1,1,GND
J1,2,D7
J1,3,+5V
J2,1,GND
J2,2,D7
J2,3,+5V
""",
        {"body": "1x3 serial"},
        """\
refused: t.txt:4:2: a file must describe one connector; its tables at t.txt:1:2 and t.txt:4:2 both describe contact \
1. Say which with --table 'J1' or --table 'J2'""",
    ),
    "headings for half of the columns": (
        """\
Pin,Signal,,
1,GND,3,D7
2,RESET,4,+5V
""",
        {"body": "1x4 serial"},
        """\
1: GND
2: RESET
3: D7
4: +5V
- t.txt:1:1: 'Pin  Signal': a heading""",
    ),
    "no direction in a column without heading": (
        """\
1,--,GND
2,<->,D7
3,->,RESET
4,-,+5V
5,<-,IRQ2
""",
        {"body": "1x5 serial"},
        """\
1: GND
2: D7
3: RESET
4: +5V
5: IRQ2""",
    ),
    "a column with a number or two": (
        """\
Kontakt;Name;Spannung
A 01;GND;
A 02;D7;
A 03;RESET;
A 04;+5V;5
A 05;IRQ2;
A 06;D6;
A 07;D5;
A 08;+12V;12
""",
        {"body": "1x8 rows"},
        """\
A1: GND
A2: D7
A3: RESET
A4: +5V
A5: IRQ2
A6: D6
A7: D5
A8: +12V
? t.txt: column 3 ('Spannung') was not read, though it may name contacts ('5' and '12')
- t.txt:1:1: 'Kontakt  Name  Spannung': a heading""",
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_a_table_gives_this_map_and_these_words(case: str) -> None:
    text, options, expected = CASES[case]
    assert outcome(text.encode(), **options) == expected


@pytest.mark.parametrize(("table", "first"), [("1", "1: GND"), ("2", "1: +5V"), ("Slot", "1: +5V")])
def test_a_number_counts_tables_and_is_no_name(table: str, first: str) -> None:
    book = openpyxl.Workbook()
    for name, signals in (("2", ("GND", "D7", "D6")), ("Slot", ("+5V", "RESET", "IRQ2"))):
        sheet = book.create_sheet(name)
        for number, signal in enumerate(signals, 1):
            sheet.append([number, signal])
    del book["Sheet"]
    stream = io.BytesIO()
    book.save(stream)
    said = outcome(stream.getvalue(), "t.xlsx", body="1x3 serial", table=table)
    assert said.splitlines()[0] == first


def rows(letters: str, places: int) -> bytes:
    return "\n".join(f"{letter}{n},GND" for letter in letters for n in range(1, places + 1)).encode()


@pytest.mark.parametrize(
    ("letters", "places", "form"),
    [
        ("ac", 32, "din 41612"),
        ("ac", 10, "din 41612"),
        ("abc", 32, "din 41612"),
        ("abc", 16, "din 41612"),
        ("abc", 20, "edge slot"),
        ("ab", 30, "edge slot"),
        ("AC", 32, "edge slot"),
    ],
)
def test_small_letters_alone_are_no_din_connector(letters: str, places: int, form: str) -> None:
    answer = imported(tabular.read(rows(letters, places), "t.csv"))
    assert f"\n  form: {form}\n" in answer.text


@pytest.mark.parametrize("small", ["", "A5", "B31", "all"])
def test_the_published_connector_is_found_with_labels_in_small_letters(small: str) -> None:
    text = rows("AB", 31).decode()
    text = text.lower().replace("gnd", "GND") if small == "all" else text.replace(f"{small},", f"{small.lower()},")
    answer = imported(tabular.read(text.encode(), "t.csv"))
    body = [each for each in answer.assumed if each.startswith(("body:", "labels:"))]
    found = "body: that of the published connector isa-8bit, whose labels these are"
    changed = [f"labels: {small.lower()} was read as {small}, for the others are written so"] if len(small) > 1 else []
    case = ", in small letters" if small == "all" else ""
    assert body == (changed if small != "all" else []) + [f"{found}{case}; --body or --like says otherwise"]
    assert answer.doubts == ()
