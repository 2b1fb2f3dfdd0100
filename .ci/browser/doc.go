// Package browser holds the tests of allup's pages in a real browser. It is a module of its own, so that the program
// needs nothing of what drives a browser.
package browser
