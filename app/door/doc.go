// Package door decides who may ask the pages for what.
//
// It guarantees that pages which other machines can reach are shown only to people
// who signed in; that a password crosses the network only over TLS, or where the
// settings say in words that it may not; that guessing is slow (a hash that costs
// memory, one at a time, and few tries an address); that a session is known to the
// store by its hash only, ends after [life] and with its password; that a viewer
// changes nothing; and that no other web page can make a browser change anything.
// On loopback without people, everybody on the machine is a keeper: there the door
// refuses names that are not loopback's, and requests that a proxy passed on.
//
// What needs no session: signing in, the style and icon of the pages, answers by
// the signed links of notices, readings posted with a device's token, and whether
// the program is well (without saying why not). /metrics wants a token of its own or a
// keeper.
package door
