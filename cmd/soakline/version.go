package main

// Version of the program; the release names its files by it.
const Version = "0.1.0"
