// Package ingest takes what devices send, turns it into readings and appends
// them to the store, many deliveries to a commit.
//
// It guarantees:
//
//   - A delivery is settled with nil only after what was in it is committed. A way in
//     acknowledges on that and on nothing else, so nothing acknowledged is lost.
//   - Every delivery is settled once, in the order of arrival within its way, or, where
//     the program dies, not at all; then its sender still has it.
//   - received = stored + duplicate + set aside, in every [Counts] a caller can get hold of.
//   - A store that refuses (disk full, locked) stops nothing: nothing is acknowledged,
//     it is said once, tried again with growing pauses, and healed from without a restart.
//   - What waits is bounded in number and in bytes.
//
// It does not promise that a reading of a device with neither clock nor sequence
// number is stored only once: a second copy of such a reading cannot be told from a
// second weighing. With a number alone it is once where its sender marks it as sent
// before, or sends it again within two minutes; see the store's numbered.
package ingest
