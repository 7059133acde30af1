// Package dashboard shows the watch to people over HTTP: pages for the wall, the phone and the desk, charts, and the
// same facts as JSON under /api/v1.
//
// It reads what the watch has found through the small interfaces that it declares in config.go, and never talks to a
// sensor. Every page is made on the server from embedded templates, reads without JavaScript, and asks nothing of any
// other host. Scripts only refresh what stands there already and draw the same numbers as interactive charts.
//
// The signs are the same in the drawing, the charts and on paper: width is flow, hatching is "cannot tell", a doubled
// edge is uncertainty. The four state words are "good", "plan", "act today" and "cannot tell". Colour only repeats what
// a word and a shape say already.
//
// Inside, all numbers are SI as in the packages that they come from; they become m³/h, Pa or °C once, in number.go,
// with as many digits as their spread supports. Times become the shop's local time once, in times.go.
//
// GET never changes anything. What a person can change (a line in the logbook, what is done about an alarm, where something
// stands by hand) are POSTs that a page of another origin cannot send, and that need the shop's password where there is a
// Gate. The package does not listen; the daemon does, on loopback unless its owner says otherwise.
package dashboard
