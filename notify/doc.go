// Package notify tells people about findings: once, in time, in plain words.
//
// It has two halves. The pure half decides: [Policy.Owed] says which notices a
// turn of a finding owes, [Gate] whether a notice that waited is still worth
// sending, and [Subject] and [Words.Body] what it says. None of them reads a
// clock or a file. The other half sends: a [Sender] takes due notices from the
// store and hands each to its channel.
//
// What it guarantees: a notice that the store holds as waiting is handed to its
// channel at least once, with an id that stays the same, so that a receiver can
// drop a second copy; it is settled as sent only after the channel took it; a
// channel that fails or hangs delays no other; and every notice that was not
// sent carries a sentence that says why.
//
// What it does not: a second copy is possible when the program is killed, or an
// answer is lost, between a channel taking a notice and the store noting it.
package notify
