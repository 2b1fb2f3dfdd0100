// Command allup plans builds of sub-250 g drones: what a build weighs, which packs
// suit it, and what a swap changes.
//
// Exit codes: 0 the answer is yes, or plain output; 1 something failed; 2 bad input or usage;
// 3 the answer is no (over the limit, no pack fits).
package main

import "os"

func main() { os.Exit(int(run(system(), os.Args[1:]))) }
