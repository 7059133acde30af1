// Package scan finds which parts answer on an I²C bus, and how a shop file would name them.
//
// I²C has no way to ask a part what it is. So each part that ductward knows is asked, at the addresses with which it is
// sold and nowhere else, by the commands of its own datasheet, and is taken for itself only if the answer has its marks:
// a checksum, an identity, a status byte. What answers otherwise is told as unknown. A part of another kind at one of
// these addresses is written to as well; none of the commands makes anything move or keeps anything.
package scan
