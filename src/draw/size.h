/* size: the sizes of paper that sheets are made for: ISO 216 A4, 210 x 297 mm; Letter, 8.5 x 11 in. */
#ifndef DRAW_SIZE_H
#define DRAW_SIZE_H

enum paper_size { PAPER_A4, PAPER_LETTER };

#endif
