" The server: what g:meniscus_server names, or else `meniscus` on the search path, or else where cargo installs programs.
function! meniscus#program() abort
  if exists('g:meniscus_server')
    return expand(g:meniscus_server)
  endif
  let l:cargo = (empty($CARGO_HOME) ? expand('~/.cargo') : $CARGO_HOME) . '/bin/meniscus'
  return executable('meniscus') || !executable(l:cargo) ? 'meniscus' : l:cargo
endfunction

function! s:say(message) abort
  echohl WarningMsg
  for l:line in split(a:message, "\n")
    echomsg 'Meniscus: ' . l:line
  endfor
  echohl None
endfunction

let s:complained = 0

" Says once that the server is missing, and what to do.
function! meniscus#complain() abort
  if s:complained || executable(meniscus#program())
    return
  endif
  let s:complained = 1
  call s:say('there is no program `' . meniscus#program() . '`, so plans are not checked. Install it from its source'
        \ . ' folder with `cargo install --path server/meniscus --locked`, or name it in g:meniscus_server, then restart'
        \ . ' Vim.')
endfunction

" What the command line of the server calls a goal, as a list of arguments.
function! s:arguments(goal) abort
  let l:times = matchlist(a:goal, '^\%([x×*]\s*\)\?\([0-9.]\+\)\s*[x×]\?$')
  if !empty(l:times)
    return ['--by', l:times[1]]
  endif
  let l:part = matchlist(a:goal, '^[/÷]\s*\([0-9.]\+\)$')
  if !empty(l:part)
    return ['--by', printf('%.15g', 1.0 / str2float(l:part[1]))]
  endif
  let l:fill = matchlist(a:goal, '^\(flask\|smallest\)\%(\s\+\(.*\)\)\?$')
  if !empty(l:fill)
    return ['--' . l:fill[1]] + (empty(l:fill[2]) ? [] : [l:fill[2]])
  endif
  let l:of = matchlist(a:goal, '^\(.\{-1,}\)\s\+of\s\+\(.*\)$')
  if !empty(l:of) && l:of[1] ==# 'bottle'
    return ['--bottle-of', l:of[2]]
  elseif !empty(l:of)
    return ['--to', l:of[1], '--of', l:of[2]]
  elseif a:goal ==# 'bottles'
    return ['--bottles']
  endif
  return ['--to', a:goal]
endfunction

" Rescales the plan at the cursor, by the command line of the server, as its clients have no command in common.
" `goal` is `2x`, `/ 2`, `10 mmol`, `2.0 g of KEY`, `bottle of KEY`, `bottles`, `flask`, `flask 250 mL`, `smallest` or
" `smallest 2 %`; with `equipment`, or `!` at the end of the goal, the sizes of equipment follow.
function! meniscus#rescale(goal, equipment) abort
  if !executable(meniscus#program())
    let s:complained = 0
    return meniscus#complain()
  elseif &modified || empty(expand('%'))
    return s:say('write the plan first: it is rescaled as it is in its file')
  endif
  let l:command = [meniscus#program(), 'rescale'] + s:arguments(substitute(trim(a:goal), '\s*!$', '', ''))
        \ + (a:equipment || a:goal =~# '!\s*$' ? ['--equipment'] : [])
  " Titles count the plans of a file.
  if len(filter(getline(1, '$'), {_, line -> line =~? '^\s*plan\>'})) > 1
    let l:above = filter(getline(1, '.'), {_, line -> line =~? '^\s*plan\>'})
    let l:command += ['--plan', max([1, len(l:above)])]
  endif
  let l:remarks = tempname()
  let l:shell = join(map(l:command + ['--', expand('%:p')], 'shellescape(v:val)')) . ' 2>' . shellescape(l:remarks)
  let l:lines = systemlist(l:shell)
  let l:said = filereadable(l:remarks) ? join(readfile(l:remarks), "\n") : ''
  call delete(l:remarks)
  if v:shell_error
    return s:say(l:said)
  endif
  call map(l:lines, 'substitute(v:val, ''\r$'', "", "")')
  " Only lines that differ are set, so that marks and folds of the others stay; one undo takes all of it back.
  for l:number in range(len(l:lines))
    if getline(l:number + 1) !=# l:lines[l:number]
      call setline(l:number + 1, l:lines[l:number])
    endif
  endfor
  if !empty(l:said)
    " What the command line calls so is the `!` here.
    call s:say(substitute(l:said, '--equipment\>', ':MeniscusRescale!', 'g'))
  endif
endfunction
