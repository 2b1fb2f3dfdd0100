// Package planner answers the questions of a build: what it weighs, which packs suit
// it, what a swap changes. What bench tests say of packs is package tested's.
//
//  1. [Resolve] turns a checked build into a [Plan]: the mass budget, and the craft
//     that package model flies, prepared once.
//  2. A [PackSet] turns packs of the catalogue into circuits, each once, when it is asked for.
//  3. A plan and a pack make an [Assessment]: reasons against the pack, or what it does.
//  4. [Plan.Rank] scores the packs that nothing speaks against; [Weigh] and
//     [CompareSwap] answer for the pack that the build carries.
//
// Every reason and warning is a [Remark]: data with a code, in words a pilot can act on. Nothing
// here prints, and results do not depend on the order of anything.
package planner
