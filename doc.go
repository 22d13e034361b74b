// Package soakline holds only the tests of the house as a whole; the program
// is cmd/soakline and its rooms are under internal.
package soakline
