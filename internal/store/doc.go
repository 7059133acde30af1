// Package store keeps what the shop's sensors read, and what was made of it, in one bbolt file.
//
// Readings gather in memory and reach the file in batches: a commit a reading would wear a memory card out. A commit
// writes all that is open as one piece under one key. When a day of monotonic time is over, or enough has gathered (10,800
// readings of a channel: three hours at 1 Hz), all open readings are sealed into blocks of each channel,
// with roll-ups by minute, hour and day, and the pieces are removed, in one transaction.
//
// What is promised: a reading is on the card when Commit has returned; a power cut loses at most what was appended
// since. A journal entry, alarm, finding, baseline, shop description or boot is on the card before the call that hands
// it over returns. Nothing is ever refused because of its time. Bulk suspends these promises for a record that could be
// made again.
//
// # Words
//
// A boot is one life of the board, numbered from 1. Readings are ordered by boot, monotonic time and sequence; civil
// time is the boot's placement (the civil time of its monotonic zero) plus monotonic time, and is never stored with a
// reading. So a wall clock that jumps moves labels, and loses and reorders nothing. A reading whose boot is not placed
// has the zero time. A double is a reading whose channel, boot, monotonic time and sequence are those of another: it is
// dropped and counted.
//
// # Format 1
//
// Numbers in keys are big-endian, ints in values little-endian or varints.
//
//	meta       "format"                                 → u8 format
//	           "raw-from" u32 boot                      → u64 ns; raw blocks before it were deleted for their age
//	           "minutes-from" u32 boot                  → u64 ns; the same for minutes
//	           "published"                              → record: up to which reading all were taken by those they are sent to
//	channels   u32 channel                              → name
//	boots      u32 boot                                 → record: placed, civil ns of monotonic zero
//	open       u64 piece                                → version u8 | what piece.go draws | CRC-32C
//	blocks     u32 channel, u32 boot, u64 ns, u32 serial → block
//	minutes    u32 channel, u32 boot, u32 day           → roll-ups of 1440 minutes
//	hours      u32 channel, u32 boot, u32 32 days       → roll-ups of 768 hours
//	days       u32 channel, u32 boot, u32 1024 days     → roll-ups of 1024 days
//	runs       collector 0 u32 boot u64 end u64 start u8 kind → record
//	journal    u64 number from 1                        → record
//	findings   collector 0 u64 raised, id               → record
//	alarms     id                                       → record
//	baselines  collector 0 u64 version                  → record
//	shops      u64 number from 1                        → record
//	outbox     u64 number                               → record; a file of before it was there has none
//	damaged    bucket 0 key                             → what stood there and could not be read
//	           "lost" 0 bucket 0 key                    → key; of those from the first on and before the second some may
//	                                                      be lost, "" has no bound
//
//	block    ┌─────────┬─────────┬───────┬──────┬──────┬─────┬───────┬────────┬──────┬─────┬───────────┬────────┐
//	         │ version │ columns │ count │ span │ mono │ seq │ value │ [span] │ [sd] │ [n] │ [quality] │ CRC-32C│
//	         │ u8 = 1  │ u8 bits │ uvar  │ uvar │ ints │ ints│ floats│ ints   │floats│ ints│ ints      │ u32    │
//	         └─────────┴─────────┴───────┴──────┴──────┴─────┴───────┴────────┴──────┴─────┴───────────┴────────┘
//	roll-ups │ version │ count │ slots │ counts │ least │ greatest │ means │ CRC-32C │
//	record   │ version │ JSON                                              │ CRC-32C │
//
// Columns are drawn in ints.go and floats.go. A checksum covers the key, then the value.
//
// # Invariants
//
// Check tests each, and names it by its number.
//
//  1. Every bucket above is there, the outbox perhaps not, and no other; the format is one that this program knows.
//  2. Every channel number that a key uses has one name, and no two numbers have the same.
//  3. Every raw block passes its checksum and decodes; its readings rise strictly by (monotonic time, sequence), begin
//     where its key says, and lie in one day of monotonic time.
//  4. No reading stands twice: not in two blocks of its channel and boot, nor in two pieces. (One in a piece may be the
//     double of one in a block: it is dropped when the piece is sealed, and readers drop it until then.)
//  5. Every piece passes its checksum and decodes.
//  6. Every block of roll-ups passes its checksum and decodes; slots rise and lie in the period of the key;
//     least ≤ mean ≤ greatest.
//  7. Where the raw readings of a day are kept, its minutes count them: same count, least, greatest and mean. Hours and
//     days count what the minutes count, where those are kept. Neither holds of a channel and boot of which some may be
//     lost by the bucket damaged.
//  8. Every boot that a key uses is known.
//  9. Every record passes its checksum and decodes, the one in meta too; journal and shops are numbered without a gap
//     from 1.
//  10. The pages of the file are sound: each is reachable once or free.
package store
