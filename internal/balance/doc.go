// Package balance finds which machines of a shop may work together: so that each of them has the air it needs, the dust
// is carried in every run that it goes through, and the suction stays within what the ducts bear.
//
// # What a set is
//
// A set is the machines that are open; everything else is shut. What has to be moved for a machine (gates on its way,
// selectors, a hose) is one way; machines that ask for the same moves share one way and are open together. Machines
// whose way is always open are in every set. Two ways that want the same selector or hose are never in one set.
//
// A set is fine when the verdict on its solved state is (package verdict). It is asked twice: with the filter as it is
// told, clean by default, and with the filter at its limit, for a set that only works with a clean filter is nothing
// to plan on. A set that is fine in both is safe.
//
// # How they are found
//
// Where there are few ways, every set is solved. Where there are many, sets are solved by rising size, and a set is left
// out when a machine is short in one of its subsets, for one more open gate never gives another machine more air: it
// lets the room's pressure in at one more place, the suction falls at every joint, and with it each other hood's flow.
// That holds where every loss rises with its own flow and the fan's pressure falls with it. A fan left of its hump and a
// wye whose branch pulls its straight run along can break it by a little, so that a set may be missed then; but none is
// told wrongly, since each set that is told has been solved itself. Dust is another matter: more open gates make the
// trunk faster, so a set that does not carry may well become fine by one more machine, and nothing is left out on its
// account.
//
// The work is bounded. Where it does not reach, all sets up to some size have been looked at, larger ones only from the
// best on, and the answer says so.
package balance
