// Package web is the desk: the local page in the browser from which a season is
// brought in, judged, mended, answered and handed on.
//
// It answers requests of one person on one machine. Pages are made on the
// server, work with scripts off and by keyboard alone; scripts only add
// (dropping a file, progress without a reload). Every change goes through
// package task; numbers come from rates and compare, drawings from report and
// figure, sentences from words. There is no clock and no browser in here: the
// room desktop has the port, the browser and the second double click.
//
// What keeps strangers out: only requests to a loopback address of the own
// port are answered (a name that was made to point here is refused), a page of
// another origin may send nothing, and a cookie is needed that a token used up
// in the first address was swapped for.
//
// It leaves out accounts and roles: whoever has the cookie has the logbook.
package web
