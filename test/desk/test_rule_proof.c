/* Rows for the rules about photos (desk/rule_proof.c). Limits are those of proof/photo.h. */
#include "rule_try.h"
#include "tap.h"

#include <math.h>
#include <string.h>

static const int64_t hour = 3600 * 1000;

static void missing_rows(void)
{
    struct rule_try *t = try_new();
    try_drop(t, EVENT_PHOTO_TAKEN, NULL, "room-supported");
    try_one(t, RULE_PHOTO_MISSING, RULE_ASK, NULL,
            "Photo room-supported is missing: The room on both stands",
            "a photo of the unit not taken");
    t = try_new();
    try_drop(t, EVENT_PHOTO_TAKEN, "aft", "seal");
    try_one(t, RULE_PHOTO_MISSING, RULE_ASK, "aft", "Photo seal of aft is missing",
            "a photo of one column not taken");
    t = try_new();
    struct event note = *try_event(t, EVENT_NOTE, NULL, NULL, 0);
    const struct event taken = *try_event(t, EVENT_PHOTO_TAKEN, "fore", "seal", 0);
    note.station = "fore";
    struct event *back = try_add(t, &note, taken.at_ms + 1000);
    back->has_corrects = true;
    back->corrects = taken.id;
    try_one(t, RULE_PHOTO_MISSING, RULE_ASK, "fore", "Photo seal of fore",
            "a photo that was taken back");
    t = try_new();
    t->claim.n_photos--; /* the last: finished */
    try_one(t, RULE_PHOTO_MISSING, RULE_ASK, NULL, "Photo finished",
            "a photo that the claim does not hold");
    t = try_new();
    t->claim.n_photos--;
    t->bag[0] =
        (struct store_finding){"bag",
                               "ask",
                               NULL,
                               "the bag does not hold photos/finished.png, the photo for finished",
                               "Pack it again.",
                               NULL,
                               NULL,
                               NULL};
    t->claim.n_findings = 1;
    try_one(t, RULE_BAG, RULE_ASK, NULL, "The bag does not hold photos/finished.png",
            "a photo that the bag does not hold is said once");
    t = try_new();
    try_event(t, EVENT_PHOTO_TAKEN, NULL, "room-supported", 0)->station = "fore";
    try_clean(t, "a photo of the unit, written down at a column");
    t = try_new();
    t->bag[0] = (struct store_finding){
        "bag",      "note", NULL, "the bag holds extra.jpg, which no event names",
        "Nothing.", NULL,   NULL, NULL};
    t->claim.n_findings = 1;
    try_one(t, RULE_BAG, RULE_NOTE, NULL, "extra.jpg", "what taking in only notes is a note");
    t = try_new();
    t->bag[0] =
        (struct store_finding){"other", "ask", NULL, "not the bag's", "Nothing.", NULL, NULL, NULL};
    t->claim.n_findings = 1;
    try_clean(t, "findings of other rules that came with the claim");
}

static void light(double exposure, double sharpness, enum rule_id rule, const char *needle,
                  const char *what)
{
    struct rule_try *t = try_new();
    try_photo(t, "fore", "seal")->exposure = exposure;
    try_photo(t, "fore", "seal")->sharpness = sharpness;
    if (needle != NULL)
        try_one(t, rule, RULE_ASK, "fore", needle, what);
    else
        try_clean(t, what);
}

static void look_rows(void)
{
    light(0.149, 200, RULE_PHOTO_DARK, "too dark", "just too dark");
    light(0.15, 200, RULE_N, NULL, "just bright enough");
    light(0.931, 200, RULE_PHOTO_BRIGHT, "washed out", "just too bright");
    light(0.93, 200, RULE_N, NULL, "just dark enough");
    light(0.5, 19.9, RULE_PHOTO_BLURRED, "blurred: sharpness 19.9", "just blurred");
    light(0.5, 20, RULE_N, NULL, "just sharp enough");
    light(0.01, 0, RULE_PHOTO_DARK, "too dark", "a black photo is dark, and that is all");
    light(NAN, NAN, RULE_N, NULL, "a photo that was not measured");
    struct rule_try *t = try_new();
    try_photo(t, "fore", "seal")->fault = "truncated";
    try_photo(t, "fore", "seal")->exposure = NAN;
    try_one(t, RULE_PHOTO_BROKEN, RULE_ASK, "fore",
            "(photos/fore-seal.png) cannot be looked at: truncated", "a broken photo");
    t = try_new();
    try_photo(t, "fore", "seal")->fault = "";
    try_clean(t, "a photo with an empty fault");
}

static void taken(int64_t ms, bool is_wrong, const char *what)
{
    struct rule_try *t = try_new();
    try_photo(t, "fore", "seal")->taken_ms = ms;
    if (is_wrong)
        try_one(t, RULE_PHOTO_TIME, RULE_ASK, "fore",
                "by its camera; the job ran from 2026-05-04 07:12 UTC to 2026-05-04 13:48 UTC",
                what);
    else
        try_clean(t, what);
}

static void time_rows(void)
{
    /* 1777878720880 ms is 2026-05-04 07:12:00 UTC, 1777902519819 is 13:48:39 (date -u -d @...). */
    const int64_t first = 1777878720880, last = 1777902519819;
    taken(first - 26 * hour - 1, true, "more than 26 hours before the job");
    taken(first - 26 * hour, false, "26 hours before the job");
    taken(last + 26 * hour + 1, true, "more than 26 hours after the job");
    taken(last + 26 * hour, false, "26 hours after the job");
    taken(STORE_UNKNOWN, false, "a photo without a time");
}

static void seen_rows(void)
{
    struct rule_try *t = try_new();
    size_t at = (size_t)(try_photo(t, "fore", "seal") - t->photos);
    t->seen[0] =
        (struct rule_seen){at, "K0123456789AB", "photos/fore-seal.jpg", false, false, 0.987};
    t->known.n_seen = 1;
    try_one(t, RULE_PHOTO_SEEN, RULE_HOLD, "fore",
            "Photo seal of fore shows the same picture as photos/fore-seal.jpg of claim "
            "K0123456789AB (likeness 0.99)",
            "a photo seen before");
    t = try_new();
    t->seen[0] = (struct rule_seen){at, "K0123456789AB", "photos/x.jpg", true, false, 1.0};
    t->seen[1] = (struct rule_seen){at, "K0123456789AA", "photos/y.jpg", false, false, 0.9999};
    t->known.n_seen = 2;
    try_one(t, RULE_PHOTO_SEEN, RULE_HOLD, "fore",
            "is the same file as photos/x.jpg of claim K0123456789AB",
            "of two the same file is told");
    t = try_new();
    t->seen[0] = (struct rule_seen){at, "K0123456789AB", "photos/x.jpg", false, true, NAN};
    t->known.n_seen = 1;
    try_one(t, RULE_PHOTO_SEEN, RULE_HOLD, "fore",
            "mirrored, as photos/x.jpg of claim K0123456789AB (by their hashes)",
            "mirrored, by hashes alone");
    t = try_new();
    t->seen[0] =
        (struct rule_seen){t->claim.n_photos, "K0123456789AB", "photos/x.jpg", true, false, 1.0};
    t->known.n_seen = 1;
    try_clean(t, "a photo that the claim does not have");
    t = try_new();
    at = (size_t)(try_photo(t, NULL, "finished") - t->photos);
    t->seen[0] = (struct rule_seen){at, "K0123456789AB", "photos/x.jpg", true, false, 1.0};
    t->known.n_seen = 1;
    try_one(t, RULE_PHOTO_SEEN, RULE_HOLD, NULL, "Photo finished is the same file",
            "a photo of the unit");

    t = try_new();
    struct event *seal = try_event(t, EVENT_PHOTO_TAKEN, "aft", "seal", 0);
    seal->as.photo_taken = try_event(t, EVENT_PHOTO_TAKEN, "fore", "seal", 0)->as.photo_taken;
    try_one(t, RULE_PHOTO_TWICE, RULE_ASK, "aft",
            "Photo seal of aft is the same file as photo seal of fore", "one file for two photos");
    t = try_new();
    struct store_photo *copy = try_photo(t, "aft", "seal");
    struct event *named = try_event(t, EVENT_PHOTO_TAKEN, "aft", "seal", 0);
    memcpy(copy->sha256, try_photo(t, "fore", "fixings")->sha256, sizeof copy->sha256);
    named->as.photo_taken.sha256 =
        try_event(t, EVENT_PHOTO_TAKEN, "fore", "fixings", 0)->as.photo_taken.sha256;
    try_one(t, RULE_PHOTO_TWICE, RULE_ASK, "aft",
            "Photo seal of aft is the same file as photo fixings of fore",
            "the same bytes under another name");
    t = try_new();
    const struct event first = *try_event(t, EVENT_PHOTO_TAKEN, "fore", "seal", 0);
    try_add(t, &first, first.at_ms + 60000);
    try_clean(t, "one photo written down twice for the same thing");
}

static void code(const char *station, const char *photo, const char *codes, const char *needle,
                 const char *what)
{
    struct rule_try *t = try_new();
    try_photo(t, station, photo)->codes = codes;
    if (needle != NULL)
        try_one(t, RULE_CODE_DIFFERS, RULE_HOLD, station, needle, what);
    else
        try_clean(t, what);
}

static void code_rows(void)
{
    code("fore", "label", "WD40 2024-W14", "says label 'WD40 2024-W14'; 'WD40 2024-W13' was typed",
         "a code with another week");
    code("fore", "label", "WD40 2024-W32", "says label 'WD40 2024-W32'",
         "the other column's label");
    code("fore", "label", "WD40 2024-W13", NULL, "a code that agrees");
    code("fore", "label", " wd40 wk 13 2024 ", NULL, "a code that agrees by the other pattern");
    code("fore", "label", "HELLO\nhttps://example.org/x", NULL, "codes that are neither");
    code("fore", "label", "WD40 2024-W13\nZZZFM24T5R0001235",
         "says VIN ZZZFM24T5R0001235; the job says ZZZFM24T5R0001234",
         "a second code with another VIN");
    code("fore", "label", "zzzfm24t5r0001234", NULL, "the VIN in small letters");
    code("fore", "label", "IZZZFM24T5R0001234", NULL, "the VIN behind the I of an import");
    code("fore", "label", "IZZZFM24T5R0009999", "says VIN ZZZFM24T5R0009999; the job",
         "another VIN behind an I");
    code(NULL, "finished", "ZZZFM24T5R0009999",
         "A code in photo finished says VIN ZZZFM24T5R0009999",
         "another VIN of the maker in any photo");
    code(NULL, "finished", "1M8GDM9AXKP042788", "says VIN 1M8GDM9AXKP042788",
         "a VIN that checks in any photo");
    code(NULL, "finished", "1M8GDM9AXKP042789", NULL,
         "17 characters that do not check, of another maker, may be a serial number");
    code("fore", "label", "1M8GDM9AXKP042789", "says VIN 1M8GDM9AXKP042789",
         "but not in a photo of a label");
    code(NULL, "finished", "ZZZFM24T5R0001234", NULL, "the job's VIN in any photo");
    code("fore", "label", "ZZZFM24T5R000123O", NULL, "17 characters with an O are no VIN");
    code("fore", "seal", "WD40 2024-W14", NULL, "a code in a photo of something else");
}

int main(void)
{
    missing_rows();
    look_rows();
    time_rows();
    seen_rows();
    code_rows();
    return tap_done();
}
