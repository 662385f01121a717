/* rule_rows: owns what is said of each rule: what it sees, why it matters, how it is cured. doc/ruling.md is made from it. */
#include "desk/rule.h"

/* Names and levels stand in RULE_TABLE. */
#define X(symbol, name_, level_)                                                                   \
    static const char symbol##_name[] = name_;                                                     \
    enum { symbol##_level = level_ };
RULE_TABLE(X)
#undef X

#define ROW(symbol, sees_, why_, cure_)                                                            \
    [symbol] = {symbol##_name, (enum rule_level)symbol##_level, sees_, why_, cure_}

const struct rule_row rule_rows[RULE_N] = {
    ROW(RULE_VIN_CHECK,
        "The VIN's check digit is wrong, or the VIN is one digit 17 times. A note where the "
        "bulletin takes the check as advice.",
        "A VIN that was mistyped may be another unit; money would go to the wrong one.",
        "The shop compares the plate and sends the VIN as it stands there; the likeliest "
        "misreading is named."),
    ROW(RULE_VIN_PREFIX, "The VIN begins with none of the beginnings that the bulletin lists.",
        "The campaign covers these units only.",
        "If it was mistyped: the VIN off the plate, with a photo."),
    ROW(RULE_VIN_UNKNOWN, "The desk keeps a build list, and the VIN is not in it.",
        "A unit that was never built is not repaired.",
        "The desk compares the photo of the plate, and corrects the VIN or the list."),
    ROW(RULE_LABEL_MISSING, "A station was worked on and its label was not read.",
        "Only the label tells whether the station is in.",
        "The shop sends what stands on the label, with a photo."),
    ROW(RULE_SCOPE_UNKNOWN,
        "The label cannot be read by the bulletin's patterns, can mean two dates, straddles the "
        "window's end, or its variant is "
        "open or could be a misreading.",
        "In or out is only said when every reading of the label leads there.",
        "What would settle it is said with the finding."),
    ROW(RULE_OUT_OF_SCOPE,
        "The label, read anew by the bulletin that is ruled by, lies outside every build window.",
        "Work on a station that is not affected is not paid. In a bulletin for whole units a "
        "station is swept in by another one.",
        "If the label was mistyped: the label again, with a sharp photo."),
    ROW(RULE_SCOPE_DIFFERS, "The technician's device found another verdict than the desk.",
        "It shows that the shop works by another revision or program; the label decides.",
        "Nothing to send."),
    ROW(RULE_LABEL_DIFFERS,
        "The build list, else an earlier claim, has another label for the station.",
        "One of the two is wrong, or the part was changed since; the date decides the scope.",
        "The desk looks at the photo of the label; the shop corrects what was mistyped."),
    ROW(RULE_STATION_UNKNOWN, "Work is written down for a station that the bulletin does not have.",
        "It can be neither judged nor paid.", "The shop sends it under the station's own name."),
    ROW(RULE_REVISION_OLD,
        "The job was begun, by UTC, on or after the day on which the revision ruled by was issued, "
        "by an older one.",
        "The new revision may ask for more. A job begun before that day is ruled without a word.",
        "The shop does what the new revision asks beyond the old one and sends the job by it."),
    ROW(RULE_REVISION_NEW, "The job was done by a newer revision than the one ruled by.",
        "The desk would judge by old rules.", "The desk keeps the new revision and rules again."),
    ROW(RULE_BULLETIN_DIFFERS,
        "The same revision with another text (by its SHA-256), or another bulletin.",
        "Nobody can tell what the technician was told to do.",
        "The desk finds out which file the shop has."),
    ROW(RULE_PHOTO_MISSING,
        "A photo that the bulletin wants, once a unit or at each station worked on, is not there. "
        "Photos of steps that only cut are "
        "wanted only where a rack is cut.",
        "The photo is the proof of its step.",
        "The shop takes it if the work can still be seen, else explains."),
    ROW(RULE_PHOTO_BROKEN,
        "The file is empty, cut short, too large, of no known kind, or no sound picture.",
        "Nobody can look at it.", "The shop sends it as the camera wrote it."),
    ROW(RULE_PHOTO_DARK, "Its mean brightness is below 0.15.", "Nothing can be made out.",
        "The shop takes it again with a lamp."),
    ROW(RULE_PHOTO_BRIGHT, "Its mean brightness is above 0.93.", "Nothing can be made out.",
        "The shop takes it again without flash or sun."),
    ROW(RULE_PHOTO_BLURRED,
        "Its sharpness is below 20 and it is neither dark nor washed out. Limits of ours, from "
        "invented pictures.",
        "Numbers and edges cannot be made out.",
        "The shop takes it again with the camera held still."),
    ROW(RULE_PHOTO_TIME,
        "The camera's clock is more than 26 hours before the job's first or after its last event. "
        "Cameras write local time without "
        "its zone, so a day is allowed for it. A photo without a time says nothing.",
        "The photo may be of another job.",
        "The shop shows that its camera's clock is wrong, or sends a photo of this job."),
    ROW(RULE_PHOTO_SEEN,
        "The same picture, also re-saved, scaled or mirrored, came with an earlier claim of "
        "another job.",
        "One picture cannot show two units.",
        "The desk looks at both, then asks for a photo of this job, or overrules."),
    ROW(RULE_PHOTO_TWICE, "One file stands for two of the wanted photos.",
        "It can show only one of them.", "The shop sends the photo that belongs there."),
    ROW(RULE_CODE_DIFFERS,
        "A code in a photo reads as a VIN and is not the job's (away from labels and plates only "
        "if it checks or is of the same maker, "
        "as parts carry serial numbers too), or in a photo of a label reads as a label and is not "
        "what was typed.",
        "The photo is of another unit or station, or something was mistyped.",
        "The desk looks at the photo and asks for the right photo or the right text."),
    ROW(RULE_READING_MISSING,
        "A reading that the bulletin wants is not there, or is of another kind (volts for "
        "millimetres).",
        "The reading is the proof that the unit is right.",
        "The shop reads it and sends the job again."),
    ROW(RULE_READING_OUTSIDE,
        "The last reading of a point lies beyond a limit, by more than the guard band.",
        "The unit is not put right.",
        "What the bulletin says for that point, then the new reading."),
    ROW(RULE_READING_UNCERTAIN,
        "The last reading lies so near a limit that the instrument cannot tell, at the bulletin's "
        "risk.",
        "Nobody knows whether the unit is right.",
        "The shop reads again, more often or more finely, or moves it further inside."),
    ROW(RULE_READING_EARLY,
        "After the last reading of a point a rack was cut or moved at its station (for gaps and "
        "for points of the unit: at any), an "
        "adjuster that changes it was moved, or a dangerous step that comes earlier in the "
        "bulletin was first confirmed; or it was "
        "only taken at the bulletin's first look.",
        "It shows the unit as it was before the work.", "The shop reads it on the finished unit."),
    ROW(RULE_READINGS_COPIED,
        "An earlier claim of another job has the same final readings at every point.",
        "Two units never read alike at every point: at least one set was not measured.",
        "The desk asks for new readings with photos of the instrument."),
    ROW(RULE_KIT_MISSING,
        "A station was worked on and no kit is written down, or nobody told what the kit hangs on.",
        "Without it neither the work nor the money can be judged.",
        "The shop sends the kit and what the old parts showed."),
    ROW(RULE_KIT_WRONG,
        "The kit is not the bulletin's, is for another attribute than was seen or than the station "
        "has, or cannot give the measured "
        "length.",
        "A wrong kit does not hold.",
        "The desk finds out what is fitted. Fitted wrong, it must be done again."),
    ROW(RULE_RACK_MISSING, "The kit is cut to length and an old rack was not measured.",
        "Nobody can tell how long it must be.", "The shop sends the length."),
    ROW(RULE_RACKS_DISAGREE,
        "Two old racks of a station differ by more than the tape explains, and not both were "
        "measured twice.",
        "One of the two was misread, and a rack cut wrong is lost.",
        "The shop measures both again."),
    ROW(RULE_CUT_MISSING, "The kit is cut to length and no cut is written down.",
        "Nobody can tell how long the new rack is.", "The shop sends length, mark and offcut."),
    ROW(RULE_CUT_WRONG,
        "Stock, length, mark, kept end or offcut do not go with the kit or with each other beyond "
        "twice the tape's uncertainty, the "
        "length is not what was measured or not one that the piece may have, or a ready-made rack "
        "was cut. A note: an offcut longer "
        "than the bulletin expects.",
        "A rack of the wrong length runs out of step.",
        "The desk asks for a photo of the rack with the tape laid along it."),
    ROW(RULE_HOLD_SKIPPED,
        "A step that must be confirmed before the next one opens was not, once a unit or at a "
        "station worked on. Steps that only cut "
        "are wanted only where a rack is cut.",
        "Such steps keep people from being crushed, cut or burnt; the danger is named.",
        "The shop says who did it and how, and confirms it; was it left out, it is done."),
    ROW(RULE_NOT_FINISHED, "The job was not finished, or no station was worked on.",
        "Half a job is not paid.", "The shop finishes the job and sends it again."),
    ROW(RULE_WORK_AFTER,
        "Work is written down after the job was finished, and the job was not opened again.",
        "What was proved may no longer hold.",
        "The shop says what it was, finishes the job again and sends it."),
    ROW(RULE_CLOCK, "The device's clock went back while the job ran.",
        "Times of the job are as good as the clock.",
        "Nothing to send; the clock is set by the network."),
    ROW(RULE_EVENTS_ODD,
        "An event corrects what is not there, what is later or of another type, or one that was "
        "corrected already; "
        "or two events share an id.",
        "The list was edited, or is not whole.", "The shop sends the list as the device wrote it."),
    ROW(RULE_TOO_FAST,
        "From opened to finished less time passed than claim.fastest for each station worked on; "
        "where the bulletin does not give it, "
        "less than a quarter of the paid time (a limit of ours).",
        "Work that was not done takes no time.", "The desk asks how it went."),
    ROW(RULE_TWO_AT_ONCE,
        "The same technician has another job, taken in earlier, in the same hours.",
        "One pair of hands does one job.", "The desk asks who did which."),
    ROW(RULE_IN_FUTURE, "The job ends more than 26 hours after it was taken in.",
        "The device's clock is wrong, and with it all times.",
        "The shop sets the clock and sends the job again."),
    ROW(RULE_LATE,
        "The claim came after claim.until, or more than claim.days_after_repair days after the job "
        "was finished; days of "
        "UTC.",
        "The bulletin says until when is paid.", "The desk may overrule."),
    ROW(RULE_REPLACED, "The same job was sent again later, and this claim was not paid.",
        "One job is paid once.", "The later claim stands."),
    ROW(RULE_CLAIMED_TWICE,
        "An earlier claim of another job, not refused, worked on the same station.",
        "A station is repaired once.", "The desk finds out who did the work."),
    ROW(RULE_PAID_ALREADY, "The station was paid on another claim.", "A station is paid once.",
        "Nothing to send; a second failure is for the desk to overrule."),
    ROW(RULE_SHOP_UNKNOWN,
        "The desk keeps a list of shops, and this one is not in it for the day of the work.",
        "Money goes to those who are known.",
        "The desk adds the shop, or finds out who sent this."),
    ROW(RULE_PAYEE, "The shop's kind is not among claim.who.", "The bulletin says who is paid.",
        "The desk corrects the list, if it is wrong."),
    ROW(RULE_UNSIGNED, "The shop has a key, and the bag is not signed.",
        "Anybody could have sent it.",
        "The shop adds a note to the job, which makes it another bag, and sends that signed."),
    ROW(RULE_SIGNATURE, "The signature is bad, by a key that is not known, or another shop's.",
        "The bag was changed, or somebody else sent it.", "The desk asks the shop by another way."),
    ROW(RULE_BAG,
        "What taking in noted: a photo that the bag does not hold, one that was changed, one that "
        "no event names. The level "
        "is taking in's.",
        "The proof is not whole.", "As taking in said."),
    ROW(RULE_NOT_PAYABLE,
        "Something is claimed that the bulletin does not pay, has no price for, or pays less for.",
        "It is left out of the money, and that is said.", "The desk overrules if it is owed."),
    ROW(RULE_CAPPED,
        "A cap of the bulletin, less what other claims of the unit were paid, took something off.",
        "The bulletin says the most that a unit may cost.", "The desk overrules if more is owed."),
};
