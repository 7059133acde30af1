// Package diagnosis is the table from what the watch has found to what a person needs to know about it: what is likely
// behind it, how each of these would show at the sensors, what to look at first with nothing opened, what to mind, what
// happens if it waits, and when the alarm clears. It stands here once; alarms, letters, pages and files take it from here.
//
// A cause's signs say where each reading goes with the same gates open, the fan at a fixed speed and the air as it was. A
// sign stands only where the duct model shows it: a test puts each fault into several shops and sets of gates and looks. A
// cause that no pressure shows has none, and says by what else it is told. Words for the readings:
//
//   - suction: room minus duct at the trunk's tap, positive;
//   - velocity pressure at that tap;
//   - filter drop: dirty minus clean;
//   - upstream number: suction over velocity pressure, which moves only with what lies before the tap, or with the gates
//     (Guffey, Applied Occupational and Environmental Hygiene 14 (1999), from memory);
//   - far suction: at the far end of the trunk;
//   - power at the fan's shaft, of a fan with radial blades. That of other fans says less.
//
// The causes of a finding come in the order in which they are likely where nothing else is known (common practice, no
// source). Where the readings say more, the finding itself says it, with probabilities.
//
// The package states no size, no place and no probability, and nothing in it says that a place is safe.
package diagnosis
