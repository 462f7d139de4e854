"""Line weights, dash patterns, text sizes and colours of the drawing: one place, so that every sheet looks the same.

Line widths follow the series of ISO 128-2 (0.13, 0.18, 0.25, 0.35, 0.5, 0.7 mm; from memory): visible outlines of
parts 0.35, thin lines 0.18, hidden outlines dashed. Letter heights follow the trade's habit that a capital shorter
than 1.2 mm is not read at arm's length (common practice, no source).

Colours are the palette of Okabe and Ito, "Color Universal Design", 2008 (values from memory): vermilion for a supply,
blue for ground. Colour never stands alone: each class of net has a dash pattern of its own too.
"""

from __future__ import annotations

from placer.guide.scene import Pen

INK = "#000000"
VERMILION = "#d55e00"
BLUE = "#0072b2"
COPPER_FILL = "#f1efe9"
COPPER_EDGE = "#8c8c8c"
GREY = "#6b6b6b"
PAPER = "#ffffff"
PALETTE_NOTE = "Colours: Okabe and Ito palette, 2008"

OUTLINE = Pen(0.35)
THIN = Pen(0.18)
FINE = Pen(0.13, GREY)
HIDDEN = Pen(0.18, GREY, dash=(0.8, 0.5))
KEEPOUT = Pen(0.18, GREY, dash=(1.8, 0.5, 0.3, 0.5))
MARK = Pen(0.35, cap="round")
LEADER = Pen(0.18)
KNIFE = Pen(0.5, cap="round")
SAW = Pen(0.35, dash=(4.5, 0.8, 0.6, 0.8))  # chain line, as wide as a visible edge: where material is cut

REF_MM = 2.2  # font sizes; a capital is 0.69 of that: 1.5 mm for references, 1.2 mm for values
VALUE_MM = 1.75
AXIS_MM = 1.9
NUMBER_MM = 1.75
PIN_MM = 1.75
TITLE_MM = 3.6
NOTE_MM = 2.3

LEAD_R = 0.45  # radius of a lead's dot; the square of pin 1 is a little larger
PIN1_HALF = 0.52
END_R = 0.5  # radius of a jumper's end dot
DISC_R = 1.2  # radius of the disc that carries a jumper's number
DRILL_R = 1.2  # radius of the circled cross that marks a drilled hole

JUMPER_MM = 0.5
BARE_MM = 0.35  # a bare link is thinner than an insulated one
SPINE_MM = 0.18  # the line that its dashes are strung on
JUMPER_PENS = {
    "supply": Pen(JUMPER_MM, VERMILION, dash=(2.6, 0.7)),
    "ground": Pen(JUMPER_MM, BLUE, dash=(1.9, 0.6, 0.4, 0.6)),
    "signal": Pen(JUMPER_MM, INK, dash=(0.9, 0.6)),
}
