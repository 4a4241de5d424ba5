//! Holds a client's acknowledgements back until what it sent is kept.
//!
//! The broker acknowledges a message as soon as it has passed it on, and knows nothing of a journal. So its answer to each
//! publish of QoS 1 or 2 (PUBACK, PUBREC) goes through here on its way to the socket: one whose message the hub still has
//! to commit waits, and goes once it is. Everything else passes at once, so a client whose messages wait is heard and
//! kept alive as ever, and may have as many on their way as it likes: all of them share a commit.
//!
//! Answers go out in the order in which the publishes came, as MQTT asks. A client that is cut off takes its waiting answers
//! with it: what was committed and not acknowledged it sends again, marked, and the hub knows it by its delivery.
//!
//! What a message means, and when it is kept, is not known here.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::Waker;

use super::wire;

/// One connection's acknowledgements.
#[derive(Debug, Default)]
pub(super) struct Gate(Mutex<State>);

#[derive(Debug, Default)]
struct State {
    /// Publishes whose answer has not gone out, in the order in which they came.
    waiting: VecDeque<Waiting>,
    /// The number of the first of them, counted from the connection's beginning.
    first: u64,
    /// How many of the first ones the broker has answered. The next is the one it is at work on.
    answered: usize,
    /// Packets that may go out.
    out: Vec<u8>,
    /// Who reads the connection; woken, it writes what may go out.
    reader: Option<Waker>,
    cut: bool,
}

#[derive(Debug)]
struct Waiting {
    packet_id: u16,
    dup: bool,
    held: bool,
    answer: Option<Vec<u8>>,
}

/// A message whose acknowledgement is held back. Dropped, it stays so for as long as its connection stands.
#[derive(Clone, Debug)]
pub struct Held {
    gate: Arc<Gate>,
    number: u64,
}

impl PartialEq for Held {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.gate, &other.gate) && self.number == other.number
    }
}

impl Held {
    /// The message is kept: its acknowledgement may go. Never waits; nothing happens where the connection is gone.
    pub fn release(self) {
        let waker = {
            let mut state = self.gate.lock();
            let Some(place) = self.number.checked_sub(state.first) else { return };
            let Some(waiting) = usize::try_from(place).ok().and_then(|place| state.waiting.get_mut(place)) else {
                return;
            };
            waiting.held = false;
            state.let_out();
            // With nothing to write there is nobody to wake.
            if state.out.is_empty() { None } else { state.reader.take() }
        };
        if let Some(waker) = waker {
            waker.wake();
        }
    }
}

impl Gate {
    /// A publish of QoS 1 or 2 has arrived; the broker will come to it after those before it.
    pub(super) fn arrives(&self, packet_id: u16, dup: bool) {
        self.lock().waiting.push_back(Waiting { packet_id, dup, held: false, answer: None });
    }

    /// Holds back the answer to the publish that the broker is at work on. True with it where the client says that it sent
    /// it before.
    pub(super) fn hold(self: &Arc<Self>, packet_id: u16) -> Option<(Held, bool)> {
        let mut state = self.lock();
        let place = state.at_work_on(packet_id)?;
        let number = state.first + u64::try_from(place).ok()?;
        let waiting = state.waiting.get_mut(place)?;
        waiting.held = true;
        Some((Held { gate: Arc::clone(self), number }, waiting.dup))
    }

    /// The broker writes a packet.
    pub(super) fn writes(&self, packet: &[u8]) {
        let mut state = self.lock();
        let place = wire::acknowledged(packet).and_then(|packet_id| state.at_work_on(packet_id));
        let Some(waiting) = place.and_then(|place| state.waiting.get_mut(place)) else {
            state.out.extend_from_slice(packet);
            return;
        };
        waiting.answer = Some(packet.to_vec());
        state.answered += 1;
        state.let_out();
    }

    /// Has `write` take from what may go out for as long as it takes anything.
    pub(super) fn send<E>(&self, mut write: impl FnMut(&[u8]) -> Result<usize, E>) -> Result<(), E> {
        let mut state = self.lock();
        let mut sent = 0;
        let mut ended = Ok(());
        while let Some(rest) = state.out.get(sent..).filter(|rest| !rest.is_empty()) {
            match write(rest) {
                Ok(count) => sent += count,
                Err(why) => {
                    ended = Err(why);
                    break;
                }
            }
        }
        state.out.drain(..sent);
        ended
    }

    /// Who reads is to be woken when there is something to write. False once the connection is to end.
    pub(super) fn reads(&self, waker: &Waker) -> bool {
        let mut state = self.lock();
        match &mut state.reader {
            Some(reader) => reader.clone_from(waker),
            none => *none = Some(waker.clone()),
        }
        !state.cut
    }

    /// Ends the connection: what waits is never acknowledged on it, and comes again on the next.
    pub(super) fn cut(&self) {
        let waker = {
            let mut state = self.lock();
            state.cut = true;
            state.reader.take()
        };
        if let Some(waker) = waker {
            waker.wake();
        }
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    /// Where the publish is that the broker is at work on. It takes them in turn; one that it passed over without an
    /// answer gets none.
    fn at_work_on(&mut self, packet_id: u16) -> Option<usize> {
        let ahead = self.waiting.iter().skip(self.answered).position(|waiting| waiting.packet_id == packet_id)?;
        for passed_over in self.waiting.iter_mut().skip(self.answered).take(ahead) {
            passed_over.answer = Some(Vec::new());
        }
        self.answered += ahead;
        Some(self.answered)
    }

    /// Lets out the answers that nothing holds back any more, in their order.
    fn let_out(&mut self) {
        while let Some(Waiting { held: false, answer: Some(answer), .. }) = self.waiting.front() {
            self.out.extend_from_slice(answer);
            self.waiting.pop_front();
            self.first += 1;
            self.answered -= 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PINGRESP: [u8; 2] = [0xd0, 0];

    fn puback(packet_id: u8) -> [u8; 4] {
        [0x40, 2, 0, packet_id]
    }

    /// What has gone out since the last look, by the packet ids of the acknowledgements and 0 for a sign of life.
    fn gone_out(gate: &Gate) -> Vec<u8> {
        let mut all = Vec::new();
        let sent = gate.send(|bytes| {
            all.extend_from_slice(bytes);
            Ok::<_, ()>(bytes.len())
        });
        assert_eq!(sent, Ok(()));
        let mut packets = wire::Packets::default();
        let mut found = Vec::new();
        packets.feed(&all, |packet| found.push(wire::acknowledged(packet).unwrap_or(0) as u8));
        found
    }

    #[test]
    fn an_answer_waits_for_its_message_and_for_those_before_it() {
        let gate = Arc::new(Gate::default());
        for packet_id in 1..=4 {
            gate.arrives(packet_id, packet_id == 4);
        }
        let (first, dup) = gate.hold(1).expect("it has arrived");
        assert!(!dup);
        gate.writes(&puback(1));
        // The second means nothing to the hub.
        gate.writes(&puback(2));
        let (third, _) = gate.hold(3).expect("it has arrived");
        gate.writes(&puback(3));
        gate.writes(&PINGRESP);
        assert_eq!(gone_out(&gate), [0], "signs of life do not wait");
        third.release();
        assert_eq!(gone_out(&gate), [0_u8; 0]);
        first.release();
        assert_eq!(gone_out(&gate), [1, 2, 3]);

        let (fourth, dup) = gate.hold(4).expect("it has arrived");
        assert!(dup);
        fourth.release();
        assert_eq!(gone_out(&gate), [0_u8; 0], "kept before the broker has answered");
        gate.writes(&puback(4));
        assert_eq!(gone_out(&gate), [4]);
    }

    #[test]
    fn a_packet_id_used_again_is_another_message() {
        let gate = Arc::new(Gate::default());
        gate.arrives(7, false);
        let (first, _) = gate.hold(7).expect("it has arrived");
        gate.writes(&puback(7));
        gate.arrives(7, true);
        let (second, dup) = gate.hold(7).expect("it has arrived");
        assert!(dup && first != second);
        gate.writes(&puback(7));
        second.clone().release();
        assert_eq!(gone_out(&gate), [0_u8; 0]);
        first.release();
        assert_eq!(gone_out(&gate), [7, 7]);
        second.release();
        assert_eq!(gone_out(&gate), [0_u8; 0], "released twice it goes once");
    }

    #[test]
    fn what_the_broker_passed_over_holds_nothing_up() {
        let gate = Arc::new(Gate::default());
        gate.arrives(1, false);
        gate.arrives(2, false);
        gate.writes(&puback(2));
        gate.writes(&puback(9));
        assert_eq!(gone_out(&gate), [2, 9]);
        assert!(gate.hold(1).is_none(), "it is past that");
    }
}
