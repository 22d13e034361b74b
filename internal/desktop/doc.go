// Package desktop opens the desk on a person's machine: it takes a port of the
// loopback address, starts the browser, lets a second double click join the
// first, and ends the program when nobody uses it any more.
//
// Method: a rendezvous file in the user's cache folder holds the address of the
// desk that runs and a secret; a second start asks there, by that secret, for a
// first address of its own. A file left by a program that died is found out
// because nothing answers by that secret.
//
// It leaves out pages (room web) and every network but the loopback one.
package desktop
