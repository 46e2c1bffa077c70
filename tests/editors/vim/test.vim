" A plan in Vim with YouCompleteMe, as a user has it in hand. MENISCUS_PLANS names a folder for the copies.
execute 'source' expand('<sfile>:p:h') . '/harness.vim'
let s:original = readfile($MENISCUS_ROOT . '/examples/methylenation.prep')
let s:copies = 0

" Opens a new file with these lines and waits until the server knows it.
function s:open(lines) abort
  let s:copies += 1
  let l:path = $MENISCUS_PLANS . '/' . s:copies . ' µ°.prep'
  call writefile(a:lines, l:path)
  execute 'edit' fnameescape(l:path)
  call Same('file type', 'prep', &filetype)
  call WaitFor('the server to answer', function('s:hover', ['ketone:']))
endfunction

" The lines with the first of these texts replaced by its partner.
function s:with(lines, from, to) abort
  let l:lines = copy(a:lines)
  let l:number = match(l:lines, '\V' . a:from)
  call Same('`' . a:from . '` is there', 1, l:number >= 0)
  let l:lines[l:number] = substitute(l:lines[l:number], '\V' . a:from, escape(a:to, '&~\'), '')
  return l:lines
endfunction

function s:go_to(text) abort
  call cursor(1, 1)
  call Same('`' . a:text . '` is there', 1, search('\V' . a:text, 'cW') > 0)
endfunction

function s:hover(text) abort
  call s:go_to(a:text)
  return youcompleteme#GetCommandResponse('GetHover')
endfunction

" The findings as texts, each with its line, its first column in bytes, and what it says.
function s:findings() abort
  return map(getloclist(0), {_, found -> [found.lnum, found.col, found.text]})
endfunction

function s:finding(part) abort
  silent YcmForceCompileAndDiagnostics
  silent! YcmDiags
  let l:findings = s:findings()
  lclose
  return filter(l:findings, {_, found -> stridx(found[2], a:part) >= 0})
endfunction

function s:found(part) abort
  return WaitFor('the finding `' . a:part . '`', function('s:finding', [a:part]), function('s:findings'))[0]
endfunction

function s:sound() abort
  call s:open(s:original)
  call Same('errors and warnings', [0, 0], [youcompleteme#GetErrorCount(), youcompleteme#GetWarningCount()])
endfunction
call Test('a sound plan has no findings', function('s:sound'))

" Worked by hand with the abridged standard atomic weights of CIAAW 2021 (H 1.0080, C 12.011, O 15.999,
" P 30.974, Br 79.904) from the lines of the plan.
function s:hovers() abort
  call s:open(s:original)
  call Includes(s:hover('ketone:'), '771 mg')  " C10H18O 154.25 g/mol × 5.00 mmol
  call Includes(s:hover('salt:'), '2.14 g')    " C19H18BrP 357.23 g/mol × 6.00 mmol
  call Includes(s:hover('base:'), '2.30 mL')   " 5.75 mmol at 2.5 mol/L
endfunction
call Test('hover shows the amounts', function('s:hovers'))

" One, two, three and four bytes of UTF-8; the last is two units of UTF-16.
let s:wide = 'over µ°Å·→🧪 of Åsa'

function s:mended() abort
  let l:plan = s:with(s:original, '10 ppm water, 25 mL', '10 ppm water, ' . s:wide . ', 25,0 mL')
  call s:open(l:plan)
  let [l:line, l:column, _] = s:found('25.0')
  call Same('what is found', '25,0 mL', strpart(getline(l:line), l:column - 1, 7))
  call cursor(l:line, l:column)
  " The first of the fixes offered.
  call feedkeys(":YcmCompleter FixIt\<CR>1\<CR>", 'tx')
  call WaitFor('the fix', {-> getline(l:line) !=# l:plan[l:line - 1]}, {-> getline(l:line)})
  call Same('mended', s:with(l:plan, '25,0', '25.0'), getline(1, '$'))
endfunction
call Test('wide characters before a finding do not shift it or its fix', function('s:mended'))

function s:renamed() abort
  call s:open(s:original)
  call s:go_to('ketone:')
  silent YcmCompleter RefactorRename enone
  call WaitFor('the new name', {-> search('^  enone:', 'nw')})
  call Same('the scale', 'scale 5.00 mmol enone', getline(2))
  call Same('the old name is gone', 0, search('\<ketone\>\(-\| in\|:\)', 'nw'))
endfunction
call Test('a key is renamed wherever it stands', function('s:renamed'))

" What the screen shows in the row of this line.
function s:shown(line) abort
  redraw
  let l:row = screenpos(0, a:line, 1).row
  return join(map(range(1, &columns), 'screenstring(l:row, v:val)'), '')
endfunction

function s:hints() abort
  call s:open(s:original)
  let l:line = search('^  salt:', 'nw')
  call WaitFor('the amount', {-> stridx(s:shown(l:line), '2.14 g') >= 0}, {-> s:shown(l:line)})
endfunction
call Test('the amounts stand behind the lines', function('s:hints'))

function s:rescaled() abort
  call s:open(s:original)
  for [l:goal, l:scale, l:thf] in [['2x', '10.0', '40'], ['/ 2', '2.50', '10'], ['10 mmol', '10.0', '40'],
        \ ['12 mmol of salt', '10.0', '40'], ['! 2x', '10.0', '40']]
    call cursor('$', 1)
    execute 'MeniscusRescale' . (l:goal[0] ==# '!' ? l:goal : ' ' . l:goal)
    call Same(l:goal, 'scale ' . l:scale . ' mmol ketone', getline(2))
    call Same(l:goal, 1, search('add thf ' . l:thf . ' mL', 'nw') > 0)
    undo
    call Same('undone', s:original, getline(1, '$'))
    silent write
  endfor
endfunction
call Test(':MeniscusRescale rescales, and one undo takes it back', function('s:rescaled'))

function s:second() abort
  call s:open(s:original + s:original)
  call cursor('$', 1)
  MeniscusRescale 2x
  call Same('the first plan', s:original, getline(1, len(s:original)))
  call Same('the second plan', 'scale 10.0 mmol ketone', getline(len(s:original) + 2))
endfunction
call Test(':MeniscusRescale rescales the plan at the cursor', function('s:second'))

function s:refused() abort
  call s:open(s:original)
  call Includes(execute('MeniscusRescale by a lot'), '`by a lot` is no quantity')
  call setline(1, 'plan Another')
  call Includes(execute('MeniscusRescale 2x'), 'write the plan first')
endfunction
call Test(':MeniscusRescale says why it cannot', function('s:refused'))

call Finish()
