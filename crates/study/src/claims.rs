//! What a ledger proves and what it does not, in words for whoever must decide whether to rely on it. `limits.md` says the same
//! to who reads the source; a test holds the two together.

/// A claim, how it is shown, and what that does not show.
pub const CLAIMS: [[&str; 3]; 7] = [
    [
        "nothing was changed, taken out or put in between two records",
        "hashes follow from one another",
        "nothing more",
    ],
    [
        "raw files, run sheets, methods and scans are what was recorded",
        "their hashes stand in records",
        "that what was recorded is true",
    ],
    [
        "a result came from these scans by this method",
        "verify computes it again from the raw text, bit for bit",
        "that the sample was the one named",
    ],
    [
        "an approver approved this very record, with this reason",
        "Ed25519 signature over study, record, word and reason",
        "that the approver looked",
    ],
    [
        "the approver is not the one who recorded",
        "names differ, and the key is another",
        "that one person does not hold two keys under two names",
    ],
    [
        "nothing was cut off at the end",
        "only an anchor: the head's hash, printed or kept elsewhere",
        "what was recorded after the anchor",
    ],
    [
        "the whole was not written anew",
        "only an anchor, or an approver's signature that a copy elsewhere holds",
        "nothing more",
    ],
];

/// What must be borne in mind beside the claims.
pub const LIMITS: [&str; 9] = [
    "Times are the computer's. They never go back within a study: a record made while the clock stands earlier takes the time of the record before, and keeps beside it what the clock said. A clock set wrongly ahead cannot be told.",
    "The first approver comes on trust. Each later one needs the signed word of an approver who is there.",
    "Names of actors without a signature (analysts' records) are what the command was told.",
    "A ledger taken in from a colleague shows what the colleague's file said. Its approvals count as the colleague's approvers' word; its keys do not sign here.",
    "Steps of field runs say what a device handed in, with the device's times and the receipt's. That the operator did what was pressed, with the strip and at the well that were scanned, nobody can prove.",
    "A study file that was copied and written to twice is two studies of one name. Merging says from which record on they differ, and takes neither for the other. import begins a study of one's own and avoids this.",
    "Bytes that SQLite never reads (free pages, slack) are not looked at: nothing is in them.",
    "A result computed again by another version of the software may differ where the changelog says so. Each result states which numbers its software makes; where they differ, verify --recompute says so, apart from what was changed. The recorded number stands; that it is what was computed then, only that version can show. One that rewrites the ledger may state another version as well: then an anchor tells, not the recomputation.",
    "What holds today is judged when a page is made: a verdict that was printed before its calibration was withdrawn stays on that paper.",
];
