// Package checkpoint writes what a fold has gathered to bytes and back, so that it can go on where it was without being told
// its past again. It is for a program that reads what it wrote itself: the bytes say nothing of their types, and whoever
// keeps them must give them back to the same build of the program only.
//
// Everything reachable is written, fields that are not exported too: what is forgotten would show only much later, and in
// a state of forty types somebody would forget it. What is shared stays shared: two pointers to one thing, two names of
// one map, two views of the same elements. A field with the tag `checkpoint:"-"` is left alone: it is as whatever made
// the value to read into made it, or zero. What is fixed (the shop, a model made of it) is not written but named by its
// number among all that is fixed; it must be made again, alike, before reading.
//
// The same state gives the same bytes: maps are written by rising keys, and nothing depends on addresses.
//
// Functions, channels and values behind interfaces cannot be written and are an error that names their place.
package checkpoint
